"""Distributions laid out by hand as an installer would, so that tests need no package index and no build."""

from pathlib import Path

#: An importer of files that begin with `m`. What stands after `do:` in a file is run when it is looked at or read.
IMPORTER = """
from mixledger.plugin import Reading, hookimpl, refusals

class Scale:
    name = "NAME"
    version = "1"
    gives = ("weighing",)

    def claims(self, export):
        if export.head.startswith(b"m look:"):
            exec(export.head[7:].decode())
        return "it begins with m" if export.head.startswith(b"m") else None

    def read(self, exports):
        import polars as pl

        for one in exports:
            if one.head.startswith(b"m do:"):
                given = {"exports": exports, "one": one, "pl": pl, "Reading": Reading, "refusals": refusals}
                exec(compile(one.read()[5:].decode(), "deed.py", "exec"), given)
                if "answer" in given:
                    return given["answer"]
        frame = pl.DataFrame({
            "export_hash": [one.hash for one in exports], "source_line": 1, "sample_id": "S", "specimen_no": "1",
            "method": "t166", "role": "dry", "mass_g": [float(one.read()[1:4]) for one in exports],
        })
        return Reading({"weighing": frame})

@hookimpl
def mixledger_importers():
    return [Scale()]
"""


def importer(name: str = "scale") -> str:
    """Return the source of an importer."""
    return IMPORTER.replace("NAME", name)


def lay_out(folder: Path, name: str, source: str, version: str = "1.0", group: str = "mixledger.importers") -> None:
    """Write a distribution of one module with one entry point into a folder of the module path."""
    module = name.replace("-", "_")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{module}.py").write_text(source, "utf-8")
    info = folder / f"{module}-{version}.dist-info"
    info.mkdir(exist_ok=True)
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n", "utf-8")
    (info / "entry_points.txt").write_text(f"[{group}]\n{module} = {module}\n", "utf-8")
