"""What looking at an example finds: how it is written, its header values, its table, and notes on each finding."""

from dataclasses import dataclass, field
from typing import Any

#: From this confidence on a finding is taken as it is; below it is marked as doubtful.
SURE = 0.75

#: Below this confidence a finding is left out.
LEAST = 0.4


@dataclass(frozen=True)
class Note:
    """One finding with its reason and how sure it is, 0 to 1."""

    what: str
    value: str
    reason: str
    confidence: float


@dataclass(frozen=True)
class Place:
    """A column of the table, or a header value: its name, the texts that stand there, its unit if it names one.

    `nth` is the value of a header line with several; `called` is a better name than the place's own.
    """

    name: str
    texts: tuple[str, ...]
    header: bool
    unit: str | None = None
    nth: int = 1
    called: str | None = None


@dataclass
class Found:
    """What one example shows; the mappings are keys of the layout's sections."""

    kind: str
    recognise: dict[str, Any] = field(default_factory=dict)
    writing: dict[str, Any] = field(default_factory=dict)
    header: dict[str, Any] = field(default_factory=dict)
    block: dict[str, Any] = field(default_factory=dict)
    table: dict[str, Any] | None = None
    places: list[Place] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    @property
    def table_name(self) -> str:
        """Return the name of the table in the layout."""
        return "block" if self.kind == "slip" else "readings"

    def note(self, what: str, value: object, reason: str, confidence: float = 1.0) -> None:
        """Keep a finding."""
        note = Note(what, str(value), reason, confidence)
        if note not in self.notes:
            self.notes.append(note)
