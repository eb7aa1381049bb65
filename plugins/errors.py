"""Catalogue of refusals: code -> title, what was expected, and what to do about it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Entry:
    """One kind of refusal: a short title, what a good export has instead, and the remedy shown to the user."""

    title: str
    expected: str
    remedy: str


_ENTRIES: dict[str, Entry] = {
    "empty": Entry(
        "The file is empty.",
        "an export with content",
        "Export it again from the instrument; an empty file is usually an export that was interrupted.",
    ),
    "undecodable": Entry(
        "The text cannot be decoded.",
        "text in one of the encodings the layout names",
        "Export it again without passing it through another program, or add the encoding to the layout.",
    ),
    "too_large": Entry(
        "The file, or what it expands to, is too large.",
        "an export within the size limit",
        "Export a shorter period, or split the export at the instrument.",
    ),
    "unknown_kind": Entry(
        "No importer recognises the file.",
        "an export of a kind that an importer claims",
        "Write a layout for this instrument into the importers folder of the workspace, or take the file out.",
    ),
    "two_importers": Entry(
        "More than one importer recognises the file.",
        "exactly one importer that claims the file",
        "Make the recognition of one of them narrower, or name the one to prefer in mixledger.toml: [plugins] prefer.",
    ),
    "truncated": Entry(
        "The file ends before its own end.",
        "the closing mark and the number of rows the export declares",
        "Copy or export the file again; the whole file replaces this one.",
    ),
    "not_well_formed": Entry(
        "The file breaks the rules of its own format.",
        "a file that follows the format it claims to be",
        "Export it again; do not edit exports by hand.",
    ),
    "entities_refused": Entry(
        "The XML declares a document type or entities.",
        "plain XML without a document type",
        "Export it again from the instrument; no instrument needs entities, so find out who wrote this file.",
    ),
    "missing_field": Entry(
        "A value that every row needs is missing.",
        "the named field",
        "Fill the field in at the instrument or in the register and export again.",
    ),
    "missing_table": Entry(
        "A table is missing.",
        "the table the layout names",
        "Export again with the table, or correct the layout.",
    ),
    "missing_column": Entry(
        "A column is missing from the table's heading.",
        "the column the layout names",
        "Export again with the column, or correct the layout.",
    ),
    "not_a_number": Entry(
        "A value is not a number.",
        "a number written with the layout's decimal mark",
        "Correct the value at its source and export again; the other rows were taken in.",
    ),
    "not_a_date": Entry(
        "A value is not a date or time.",
        "a date or time in one of the layout's formats",
        "Correct the date at its source and export again; the other rows were taken in.",
    ),
    "not_a_word": Entry(
        "A word is not in the vocabulary.",
        "one of the words listed",
        "Use one of the words listed, or add this word to the layout's list.",
    ),
    "unknown_unit": Entry(
        "A unit is unknown or does not measure what the column holds.",
        "a unit of the same quantity",
        "Set the instrument to the unit the layout expects, or add the unit to the layout.",
    ),
    "not_valid": Entry(
        "A value is impossible.",
        "a value within the bounds of the record",
        "Check the value against the paper record, correct it at its source and export again.",
    ),
    "duplicate": Entry(
        "The same thing is given twice in one place.",
        "each thing once",
        "Remove one of the two at the source and export again.",
    ),
    "unknown_sample": Entry(
        "The sample is not in the register.",
        "a sample the register knows",
        "Enter the sample in the register, or correct the label and export again; the rows are kept meanwhile.",
    ),
    "unknown_mix": Entry(
        "The mix is not known.",
        "a mix with a design card",
        "Send in the card of the mix, or correct the register; the rows are kept meanwhile.",
    ),
    "contradiction": Entry(
        "Figures contradict each other.",
        "figures that can be true together",
        "Check the named readings against each other and correct the wrong one at its source.",
    ),
    "importer_failed": Entry(
        "The importer itself failed.",
        "an importer that reads or refuses",
        "Correct the layout or importer named; the bytes are kept and will be read again.",
    ),
}

#: Code -> entry. Codes are stable: documents, tests and stored refusals rest on them.
CATALOGUE: Mapping[str, Entry] = MappingProxyType(_ENTRIES)


def remedy_of(code: str) -> str:
    """Return what to do about a refusal.

    Raises
    ------
    KeyError
        When the catalogue has no such code.
    """
    return CATALOGUE[code].remedy


class Refusing(Exception):
    """Raised inside an importer to refuse a whole export; never leaves `read`."""

    def __init__(self, code: str, reason: str, **place: object) -> None:
        super().__init__(reason)
        self.code = code
        self.reason = reason
        self.place = place

    def row(self, export_hash: str) -> dict[str, object]:
        """Return the refusal as a row of `plugins.api.REFUSALS`."""
        return {"code": self.code, "export_hash": export_hash, "reason": self.reason, **self.place}
