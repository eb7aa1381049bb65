"""The validation record: all check values run with the installed version, as data, JSON and a page."""

import json
import platform
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from pipeline.validation import entries, kinds
from pipeline.validation.coverage import Covered, coverage
from pipeline.validation.model import Entry, Finding, Verdict


@dataclass(frozen=True)
class Record:
    """What `mixledger validate` found.

    Attributes
    ----------
    version, made_at, platform
        Version validated; time in UTC; interpreter, libraries and machine.
    findings, coverage
        Every value; every formula with the number of its checks.
    """

    version: str
    made_at: str
    platform: str
    findings: tuple[Finding, ...]
    coverage: tuple[Covered, ...]

    @property
    def failed(self) -> tuple[Finding, ...]:
        """Return what did not pass, values that could not be run included."""
        return tuple(found for found in self.findings if found.verdict is not Verdict.PASS)

    @property
    def unchecked(self) -> tuple[Covered, ...]:
        """Return the formulas without a published check."""
        return tuple(each for each in self.coverage if not each.published)

    @property
    def verdict(self) -> str:
        """Return the outcome in a sentence."""
        count, negative = len(self.findings), sum(found.negative for found in self.findings)
        misprints = f"{negative} of them contradictory or misprinted values that must be recognised as such"
        if self.failed:
            return f"{len(self.failed)} of {count} checks did not pass ({misprints})."
        return f"All {count} checks pass, {misprints}."

    def as_json(self) -> str:
        """Return the record as JSON."""
        told = {
            "version": self.version,
            "made_at": self.made_at,
            "platform": self.platform,
            "verdict": self.verdict,
            "checks": len(self.findings),
            "failed": len(self.failed),
            "findings": [found.as_dict() for found in self.findings],
            "coverage": [each.as_dict() for each in self.coverage],
            "without_published_check": [each.name for each in self.unchecked],
        }
        return json.dumps(told, indent=2, ensure_ascii=False)


def validate(values: Iterable[Entry] | None = None) -> Record:
    """Run the check values (None: all that come with the program) with the installed version."""
    stated = entries.load() if values is None else values
    findings = tuple(found for entry in stated for found in kinds.check(entry))
    libraries = ", ".join(f"{name} {version(name)}" for name in ("polars", "duckdb"))
    machine = f"Python {platform.python_version()}, {libraries}, {platform.system()} {platform.machine()}"
    made = datetime.now(UTC).replace(tzinfo=None).isoformat(sep=" ", timespec="seconds")
    return Record(version("mixledger"), made, machine, findings, tuple(coverage(findings)))


def write(record: Record, folder: Path) -> tuple[Path, Path]:
    """Write page and JSON into a folder, which is made where it does not exist; return their paths."""
    from pipeline.validation.page import page

    folder.mkdir(parents=True, exist_ok=True)
    paths = folder / "validation.html", folder / "validation.json"
    for path, content in zip(paths, (page(record), record.as_json().encode("utf-8")), strict=True):
        aside = path.with_name(f".{path.name}.new")
        aside.write_bytes(content)
        aside.replace(path)
    return paths
