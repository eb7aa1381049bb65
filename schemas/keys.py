"""What identifies a record, what it refers to, where it is stored and what supersedes it."""

from dataclasses import dataclass, field
from typing import Any, Literal

#: Order in which rows with the same key supersede each other: the last one is current. It rests on what the
#: exports say, never on the order in which they arrived, so any order of arrival gives the same warehouse.
SUPERSESSION: tuple[str, ...] = ("issued_at", "stated_at", "export_hash", "source_line")


@dataclass(frozen=True)
class Ties:
    """Key, references and storage of one record.

    Attributes
    ----------
    key
        Columns that identify the thing described; a later row with the same key supersedes an earlier one.
    refers
        Column -> record it names (by that record's column of the same name).
    storage
        `table`: a row each in the warehouse. `series`: long raw series beside it, in immutable Parquet parts,
        current while the header row (`header`) of the same export is current.
    header
        For a series: the record that heads it.
    method
        Test method all rows belong to, where no column of the record says it.
    """

    key: tuple[str, ...]
    refers: dict[str, str] = field(default_factory=dict)
    storage: Literal["table", "series"] = "table"
    header: str | None = None
    method: str | None = None

    def as_metadata(self) -> dict[str, Any]:
        """Return the ties in the form a model's configuration carries them."""
        return {"ties": self}
