"""Ties what was found to the fields of records: by name, unit, values and bounds, each tie with its reason."""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl

from plugins.layout.convert import convertible
from plugins.layout.draft import values
from plugins.layout.draft.found import LEAST, Found, Place
from schemas import catalogue
from schemas.describe import ColumnDescription, Description
from schemas.units import conversion

#: Columns no layout fills, and those that time stamps fill.
_FILLED = frozenset({"export_hash", "source_part", "source_line"})
#: Values of a column that are looked at.
_LOOKED_AT = 40

_LABEL = re.compile(r"^[A-Z]{1,5}[-_ ]?\d{1,6}$")
_LABEL_AND_PIECE = re.compile(r"^([A-Z]{1,5}[-_]?\d{1,6})[/ ._-]+([A-Z]?\d{1,3}[A-Z]?)$")


@dataclass(frozen=True)
class Tie:
    """A field of a record with where it may stand: a place, or a constant; confidence and reason."""

    target: str
    place: Place | None
    confidence: float
    reason: str
    keys: Mapping[str, Any] = field(default_factory=dict)


@dataclass
class RecordDraft:
    """One record of the layout: whether it is made of table rows, its ties, marks to repeat it with, fields lacking."""

    record: str
    table: bool
    ties: list[Tie]
    repeat: list[dict[str, Any]] = field(default_factory=list)
    present: str | None = None
    lacking: list[ColumnDescription] = field(default_factory=list)


@cache
def hints() -> Mapping[str, Any]:
    """Return the words of the trade columns are recognised by."""
    return tomllib.loads((Path(__file__).parent / "hints.toml").read_text("utf-8"))


def families() -> dict[str, tuple[str, ...]]:
    """Return the families of records: module of the schemas -> its records."""
    found: dict[str, tuple[str, ...]] = {}
    for name, model in catalogue.records().items():
        family = model.__module__.rpartition(".")[2]
        found[family] = (*found.get(family, ()), name)
    return found


@cache
def likeness(name: str, phrases: tuple[str, ...]) -> float:
    """Return how like a name is to the nearest of some phrases, 0 to 1, by their words."""
    own = [word for word in values.tokens(name) if word not in values.UNITS or len(word) > 2]
    best = 0.0
    for phrase in phrases:
        words = phrase.split()
        if not own or not words:
            continue
        shared = sum(max((SequenceMatcher(None, word, one).ratio() for one in own), default=0) > 0.84 for word in words)
        best = max(best, 2 * shared / (len(words) + len(own)) if shared else 0.0)
    return best


def word_of(text: str, column: ColumnDescription) -> tuple[str, float]:
    """Return the vocabulary's word a text of the export may stand for, and how sure that is."""
    if text in (column.words or ()):
        return text, 1.0
    listed: Mapping[str, Sequence[str]] = hints()["words"].get(column.name, {})
    scores = {word: likeness(text, (*listed.get(word, ()), word.replace("_", " "))) for word in column.words or ()}
    best = max(scores, key=lambda word: scores[word], default="")
    return best, scores.get(best, 0.0)


def score(place: Place, column: ColumnDescription, decimal: str) -> tuple[float, str]:
    """Return how likely the column stands at the place, 0 to 1, and why; 0 where it cannot."""
    texts = [text for text in place.texts if text.strip()][:_LOOKED_AT]
    if not texts:
        return 0.0, ""
    phrases = (*hints()["fields"].get(column.name, ()), *_own_words(column))
    name = place.called or place.name
    named = likeness(name.rpartition("/")[2].rpartition(".")[2] or name, phrases)
    reasons = [f"named '{place.name}'"] if named > 0.3 else []
    if column.dtype in (pl.Date, pl.Datetime):
        return _moment_score(texts, named, reasons)
    if column.words:
        return _word_score(column, texts, named, reasons)
    if column.dtype.is_numeric():
        return _number_score(place, column, texts, named, reasons, decimal)
    return _text_score(column, texts, named, reasons)


def _word_score(column: ColumnDescription, texts: list[str], named: float, reasons: list[str]) -> tuple[float, str]:
    known = [word_of(text, column)[1] for text in dict.fromkeys(texts)]
    share = sum(known) / len(known)
    if share < 0.3:
        return 0.0, ""
    return min(1.0, 0.55 * share + 0.45 * named + 0.1), "; ".join([*reasons, "its words are known"])


def _text_score(column: ColumnDescription, texts: list[str], named: float, reasons: list[str]) -> tuple[float, str]:
    if column.name == "sample_id":
        labels = sum(bool(_LABEL.match(text) or _LABEL_AND_PIECE.match(text)) for text in texts) / len(texts)
        like = [f"values like '{texts[0]}'"] if labels > 0.5 else []
        return min(1.0, 0.6 * named + 0.5 * labels), "; ".join([*reasons, *like])
    numeric = all(values.looks_numeric(text) and "." in text for text in texts)
    return (0.0, "") if numeric or values.date_forms(texts) else (0.85 * named, "; ".join(reasons))


def _own_words(column: ColumnDescription) -> list[str]:
    """Return the words of a column's own name, without its unit."""
    parts = column.name.split("_")
    for at in range(len(parts) - 1, 0, -1):
        if column.unit is not None and "_".join(parts[at:]) in {"g", "mm", "c", "kpa", "n", "pct", "s", "m", "t", "deg",
                                                               "min", "mm_per_min", "per_min"}:  # fmt: skip
            return [" ".join(parts[:at])]
    return [" ".join(parts)]


def _moment_score(texts: list[str], named: float, reasons: list[str]) -> tuple[float, str]:
    forms = values.date_forms(texts)
    if not forms:
        return 0.0, ""
    return min(1.0, 0.45 + 0.5 * named), "; ".join([*reasons, f"a time such as '{texts[0]}'"])


def _number_score(
    place: Place, column: ColumnDescription, texts: list[str], named: float, reasons: list[str], decimal: str
) -> tuple[float, str]:
    numbers = [values.number(text, decimal) for text in texts]
    given = [one for one in numbers if one is not None]
    if len(given) < 0.5 * len(texts):
        return 0.0, ""
    total = 0.6 * named
    if place.unit is not None:
        if column.unit is None or not convertible(place.unit, column.unit):
            return 0.0, ""
        total += 0.35
        reasons = [*reasons, f"in {place.unit}"]
        factor, offset = conversion(place.unit, column.unit)
        given = [one * factor + offset for one in given]
    if not all(_within(one, column) for one in given):
        return 0.0, ""
    if column.dtype.is_integer():
        if any(one != int(one) for one in given):
            return 0.0, ""
        total += 0.2 if place.unit is None else 0.0
    elif column.unit is None or place.unit is None:
        total += 0.05
    return min(1.0, total + 0.05), "; ".join([*reasons, "within the bounds of the record"] if reasons else [])


def _within(number: float, column: ColumnDescription) -> bool:
    low = column.at_least if column.at_least is not None else column.above
    return (low is None or number >= low) and (column.at_most is None or number <= column.at_most)


def tie(found: Found, description: Description, *, table: bool) -> list[Tie]:
    """Return the best tie of each field, no place twice; places of the table only for records made of its rows."""
    decimal = found.writing.get("decimal", ".")
    columns = [column for column in description.columns if column.name not in _FILLED]
    scored: list[tuple[float, int, int, str]] = []
    for at, place in enumerate(found.places):
        if not place.header and not table:
            continue
        for number, column in enumerate(columns):
            confidence, reason = score(place, column, decimal)
            # Of a table's values and the file's, a record made of rows takes the row's own.
            if confidence >= LEAST:
                scored.append((confidence + (0.02 if table != place.header else 0), number, at, reason))
    ties: dict[int, Tie] = {}
    taken: set[int] = set()
    for confidence, number, at, reason in sorted(scored, key=lambda one: -one[0]):
        if number not in ties and at not in taken:
            ties[number] = Tie(columns[number].name, found.places[at], min(1.0, confidence), reason)
            taken.add(at)
    left = [place for at, place in enumerate(found.places) if at not in taken and place.header != table]
    for number, column in enumerate(columns):
        if number not in ties and not column.nullable and column.unit is not None:
            fits = [place for place in left if _only_by_unit(place, column, decimal)]
            if len(fits) == 1:
                ties[number] = Tie(column.name, fits[0], 0.6, f"the only value in {fits[0].unit} that is left")
    return [_two_in_one(one) for _, one in sorted(ties.items())]


def _only_by_unit(place: Place, column: ColumnDescription, decimal: str) -> bool:
    texts = [text for text in place.texts if text.strip()][:_LOOKED_AT]
    return place.unit is not None and bool(texts) and _number_score(place, column, texts, 0.0, [], decimal)[0] > 0


def _two_in_one(one: Tie) -> Tie:
    """Take only the sample out of a label that has sample and specimen."""
    if (
        one.target != "sample_id"
        or one.place is None
        or not all(_LABEL_AND_PIECE.match(t) for t in one.place.texts if t)
    ):
        return one
    reason = f"{one.reason}; sample and specimen stand together"
    return Tie(one.target, one.place, one.confidence, reason, {"pattern": "^([A-Z]+[-_]?\\d+)"})


def with_piece(ties: list[Tie]) -> list[Tie]:
    """Add the specimen that stands in the sample's label, where nothing better was found."""
    label = next((one for one in ties if one.target == "sample_id" and "pattern" in one.keys), None)
    if label is None or any(one.target == "specimen_no" and one.confidence >= 0.75 for one in ties):
        return ties
    piece = Tie("specimen_no", label.place, 0.8, "behind the sample in its label", {"pattern": "[/ ._-]+(\\w+)$"})
    return [*(one for one in ties if one.target != "specimen_no"), piece]


def fit(found: Found, description: Description) -> float:
    """Return how well an export fills a record: what it needs counts most, and telling fields more than common ones."""
    ties = {one.target: one.confidence for one in with_piece(tie(found, description, table=True))}
    total = weight = 0.0
    for column in description.columns:
        if column.name in _FILLED or column.name in ("issued_at", "stated_at"):
            continue
        telling = 0.5 if column.name in ("sample_id", "specimen_no", "instrument_id", "method") else 2.0
        part = telling if not column.nullable else 0.15 * telling
        total += part * ties.get(column.name, 0.0)
        weight += part
    return total / weight if weight else 0.0


def numbered(places: Sequence[Place]) -> Iterator[tuple[str, list[str]]]:
    """Yield the stems of names that differ by a number only, with these names, four at least."""
    stems: dict[str, list[str]] = {}
    for place in places:
        parted = re.match(r"^(.*?)(\d+)$", place.name)
        if parted and not place.header:
            stems.setdefault(parted[1], []).append(place.name)
    for stem, names in stems.items():
        if len(names) >= 4 and [name.removeprefix(stem) for name in names] == [
            str(n) for n in range(1, len(names) + 1)
        ]:
            yield stem, names
