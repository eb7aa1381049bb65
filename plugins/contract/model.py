"""What a rule is given: the plugin with its examples, the strangers around it, and a place to write variants."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from plugins.api import Export, Importer, Reading, folder_of
from plugins.contract import trial

if TYPE_CHECKING:
    import polars as pl

#: Seconds one question may take before it counts as a hang.
TIME_LIMIT = 20.0

#: Examples that are read by the costly rules; claims are asked of all.
CHOSEN = 2


class NotApplicable(Exception):
    """The rule has nothing to look at; the message says why."""


@dataclass
class World:
    """What surrounds the importer under test.

    Attributes
    ----------
    folder
        A folder the rules may write variants of examples into.
    strangers
        Importer name -> its examples; those of the importer under test are left out by the rules.
    limit
        Seconds one question may take.
    """

    folder: Path
    strangers: Mapping[str, tuple[Path, ...]] = field(default_factory=dict)
    limit: float = TIME_LIMIT
    _count: int = 0

    def export(self, content: bytes, name: str = "export") -> Export:
        """Write content where an importer can read it and hand it over as intake does."""
        self._count += 1
        path = self.folder / f"{self._count}-{name}"
        path.write_bytes(content)
        return Export.from_path(path, name)


@dataclass
class Subject:
    """An importer under test.

    Attributes
    ----------
    examples
        Exports of its own, in the order of their names.
    expected
        Folder of the records expected of them, `EXPORT.RECORD.csv`, and of refusals, `EXPORT.refused.csv`.
    note
        Its README.md.
    """

    importer: Importer
    examples: tuple[Path, ...]
    expected: Path | None = None
    note: Path | None = None
    _read: dict[Path, tuple[Export, Reading]] = field(default_factory=dict, repr=False)

    @classmethod
    def beside(cls, importer: Importer, folder: Path | None = None) -> "Subject":
        """Return the subject whose examples, expected records and note lie beside its layout or code."""
        place = folder or folder_of(importer)
        return cls(importer, files_in(place / "samples"), place / "expected", place / "README.md")

    def expected_of(self, example: Path) -> dict[str, Path]:
        """Return record -> file of the records expected of an example; `refused` for its refusals."""
        if self.expected is None or not self.expected.is_dir():
            return {}
        found = self.expected.glob("*.csv")
        ahead = f"{example.name}."
        return {path.name[len(ahead) : -4]: path for path in sorted(found) if path.name.startswith(ahead)}

    def chosen(self) -> list[Path]:
        """Return the examples costly rules look at: those with expected records, then the smallest."""
        by_size = sorted(self.examples, key=lambda path: (path.stat().st_size, path.name))
        ranked = sorted(by_size, key=lambda path: not self.expected_of(path))
        return ranked[:CHOSEN]

    def reading(self, example: Path, world: World) -> tuple[Export, Reading]:
        """Return an example as an export and what is read of it; read once."""
        if example not in self._read:
            export = Export.from_path(example)
            self._read[example] = (export, trial.read(self.importer, [export], world.limit))
        return self._read[example]

    def whole(self, world: World) -> tuple[Export, Reading]:
        """Return the first chosen example that is read without a refusal, preferring a small one.

        Raises
        ------
        NotApplicable
            When none is read without a refusal.
        """
        for example in sorted(self.chosen(), key=lambda path: path.stat().st_size):
            export, reading = self.reading(example, world)
            if not reading.refused.height and rows_of(reading):
                return export, reading
        raise NotApplicable("none of the examples looked at is read without a refusal")


@dataclass(frozen=True)
class Rule:
    """One promise: its name, what it says in a sentence, and the check that yields what breaks it."""

    name: str
    sentence: str
    check: Callable[[Subject, World], Iterator[str]]

    def findings(self, subject: Subject, world: World) -> list[str]:
        """Return what breaks the rule, one sentence each; a plugin that raises or hangs breaks it.

        Raises
        ------
        NotApplicable
            When there is nothing to look at.
        """
        found: list[str] = []
        try:
            found.extend(self.check(subject, world))
        except trial.FailedError as fault:
            found.append(str(fault))
        return found


def files_in(folder: Path) -> tuple[Path, ...]:
    """Return the files of a folder by name, hidden ones left out."""
    if not folder.is_dir():
        return ()
    return tuple(sorted(path for path in folder.iterdir() if path.is_file() and not path.name.startswith(".")))


def rows_of(reading: Reading) -> dict[str, "pl.DataFrame"]:
    """Return the records of which there are rows."""
    return {record: frame for record, frame in reading.frames.items() if frame.height}
