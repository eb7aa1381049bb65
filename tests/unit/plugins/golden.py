"""Expected records of one demo export per importer: shows what changed, and writes it when told `--accept`."""

import difflib
import hashlib
import sys
import tomllib
from pathlib import Path

from plugins.api import Export
from tests.unit.plugins.examples import importers

ROOT = Path(__file__).parents[3]
EXPORTS = ROOT / "sample_exports"
EXPECTED = ROOT / "tests" / "expected"
MANIFEST = EXPECTED / "manifest.toml"


def chosen() -> dict[str, Path]:
    """Return importer -> the export the manifest names for it."""
    exports = tomllib.loads(MANIFEST.read_text("utf-8"))["export"]
    return {name: EXPORTS / name / one["file"] for name, one in exports.items()}


def sha256(path: Path) -> str:
    """Return the hash of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def records(name: str, path: Path) -> dict[str, str]:
    """Return record -> CSV of what the importer reads from the export, in the order of lines."""
    reading = importers()[name].read([Export.from_path(path)])
    assert reading.refused.rows() == []
    made = {}
    for record, frame in reading.frames.items():
        if frame.height:
            ordered = frame.drop("export_hash").sort("source_part", "source_line", maintain_order=True)
            made[record] = ordered.write_csv(datetime_format="%Y-%m-%dT%H:%M:%S")
    return made


def main(accept: bool) -> None:
    """Print the difference between expected and read records; write the read ones if asked to."""
    lines = ["# One demo export for each importer, and the hash of the bytes its expected records were read from."]
    for name, path in chosen().items():
        lines += ["", f"[export.{name}]", f'file = "{path.name}"', f'sha256 = "{sha256(path)}"']
        for record, text in records(name, path).items():
            target = EXPECTED / name / f"{path.name}.{record}.csv"
            old = target.read_text("utf-8") if target.exists() else ""
            title = str(target.relative_to(ROOT))
            sys.stdout.writelines(difflib.unified_diff(old.splitlines(True), text.splitlines(True), title, title))
            if accept:
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_text(text, "utf-8")
    if accept:
        MANIFEST.write_text("\n".join(lines) + "\n", "utf-8")


if __name__ == "__main__":
    main("--accept" in sys.argv[1:])
