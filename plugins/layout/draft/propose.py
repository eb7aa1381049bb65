"""From what was found to the records of a layout: which family, header and series, several masses of a row."""

from collections.abc import Sequence
from dataclasses import replace

from plugins.layout.draft import match, values
from plugins.layout.draft.found import Found, Place
from plugins.layout.draft.match import RecordDraft, Tie
from schemas import catalogue
from schemas.describe import ColumnDescription, describe

#: Columns no layout fills.
_FILLED = frozenset({"export_hash", "source_part", "source_line"})

#: Columns most records have: they do not tell families apart.
_COMMON = frozenset({"sample_id", "specimen_no", "instrument_id", "method", "issued_at", "stated_at"})


#: Families whose exports mixledger writes itself: no instrument's file is guessed to be one of them.
_OWN = frozenset({"report"})


def records(found: Found, family: str) -> list[RecordDraft]:
    """Return the records of the family as the export may fill them."""
    names = match.families()[family]
    headed = {describe(name).ties.header: name for name in names if describe(name).ties.header}
    if headed:
        made = [
            draft for head, series in headed.items() for draft in (_header(found, str(head)), *_series(found, series))
        ]
    else:
        best = max(names, key=lambda name: match.fit(found, describe(name)))
        made = _masses(found) if best == "weighing" else [_rows(found, best)]
    for one in made:
        one.lacking = _lacking(one)
    return made


def best_family(found: Found, only: str | None = None) -> tuple[str, dict[str, float]]:
    """Return the family the export fills best, and the score of each, 0 to 1.

    What its records need and how many columns of the table they take up count most; what most records have, little.
    """
    scores = {
        family: _score(found, records(found, family))
        for family in match.families()
        if family == only or (only is None and family not in _OWN)
    }
    return max(scores, key=lambda family: scores[family]), scores


def _score(found: Found, drafts: Sequence[RecordDraft]) -> float:
    needed: list[float] = []
    common: list[float] = []
    used: set[str] = set()
    aside: set[str] = set()
    for one in drafts:
        ties = {tie.target: tie for tie in one.ties}
        for column in describe(one.record).columns:
            tie = ties.get(column.name)
            if not column.nullable and column.name not in _FILLED:
                (common if column.name in _COMMON else needed).append(tie.confidence if tie else 0.0)
        for tie in one.ties:
            if tie.place is not None:
                (aside if tie.target in _COMMON else used).add(tie.place.name)
        if one.repeat:
            used |= {name for _, names in match.numbered(found.places) for name in names}
    places = [place for place in found.places if not place.header] or found.places
    columns = {place.name for place in places} - (aside - used)
    share = len(used & columns) / len(columns) if columns else 0.0
    return 0.4 * _mean(needed) + 0.2 * _mean(common) + 0.4 * share


def _mean(numbers: Sequence[float]) -> float:
    return sum(numbers) / len(numbers) if numbers else 0.0


def _header(found: Found, record: str) -> RecordDraft:
    ties = match.with_piece(match.tie(found, describe(record), table=False))
    known = {one.target for one in ties}
    # The last value of a counting column is what the header says of the whole run.
    for target, series in (("gyrations", "gyration"), ("passes", "wheel_pass")):
        if target in {column.name for column in describe(record).columns} and target not in known:
            place = _place_of(found, series)
            if place is not None:
                ties.append(
                    Tie(target, place, 0.8, "the last one of the table", {"take": "last", "table": found.table_name})
                )
    stems = list(match.numbered(found.places))
    if "wheel" in {column.name for column in describe(record).columns} and len(stems) == 2 and "wheel" not in known:
        return _each_wheel(record, ties)
    return RecordDraft(record, False, ties)


def _each_wheel(record: str, ties: list[Tie]) -> RecordDraft:
    """Return the record of a run once for each wheel; of header lines with two values each wheel takes its own."""
    made = []
    for one in ties:
        several = one.place is not None and any(
            other is not one and other.place is not None and other.place.name == one.place.name for other in ties
        )
        made.append(replace(one, keys={"value": "{nth}"}) if several else one)
    made.append(Tie("wheel", None, 0.7, "the first value is taken as left", {"constant": "{wheel}"}))
    return RecordDraft(record, False, made, repeat=[{"wheel": "left", "nth": 1}, {"wheel": "right", "nth": 2}])


def _place_of(found: Found, target: str) -> Place | None:
    for record in catalogue.records():
        description = describe(record)
        if target in description.schema():
            ties = match.tie(found, description, table=True)
            return next(
                (one.place for one in ties if one.target == target and one.place and not one.place.header), None
            )
    return None


def _series(found: Found, record: str) -> list[RecordDraft]:
    if found.table is None:
        return []
    stems = list(match.numbered(found.places))
    description = describe(record)
    wide = [column.name for column in description.columns if column.name.startswith("depth_")]
    if wide and stems and len(stems[0][1]) == len(wide):
        return [_wide(found, record, stems)]
    return [_rows(found, record)]


def _wide(found: Found, record: str, stems: Sequence[tuple[str, list[str]]]) -> RecordDraft:
    """Return a record whose numbered columns are one field each, for each wheel."""
    names = {name for _, columns in stems for name in columns}
    rest = replace(found, places=[place for place in found.places if place.name not in names])
    ties = [one for one in match.with_piece(match.tie(rest, describe(record), table=True)) if one.target != "wheel"]
    number = len(stems[0][1])
    sides = [("left", 0), ("right", 1)][: len(stems)]
    repeat = [{"wheel": wheel, "side": stems[at][0]} for wheel, at in sides]
    place = Place("{side}{n}", (), header=False)
    ties.append(
        Tie("wheel", None, 0.7, "the first block of numbered columns is taken as left", {"constant": "{wheel}"})
    )
    ties.append(Tie("depth_{n:02}_mm", place, 0.85, f"{number} numbered columns", {"n": [1, number], "unit": "mm"}))
    return RecordDraft(record, True, ties, repeat=repeat)


def _rows(found: Found, record: str) -> RecordDraft:
    table = found.table is not None
    return RecordDraft(record, table, match.with_piece(match.tie(found, describe(record), table=table)))


def _masses(found: Found) -> list[RecordDraft]:
    """Return a weighing for each row, or, where a row holds several masses, one for each of them."""
    column = describe("weighing").column("mass_g")
    role = describe("weighing").column("role")
    decimal = found.writing.get("decimal", ".")
    masses = []
    for place in found.places:
        word, sure = match.word_of(place.name, role)
        numbers = [values.number(text, decimal) for text in place.texts if text.strip()]
        heavy = place.unit in ("g", "kg", "lb", "oz") or (place.unit is None and sure > 0.8)
        if not place.header and heavy and numbers and sum(one is not None for one in numbers) >= 0.5 * len(numbers):
            masses.append((place, word, sure))
    whole = _rows(found, "weighing")
    if len(masses) < 2:
        return [_with_method(whole, [])]
    names = {place.name for place, *_ in masses}
    shared = [
        one
        for one in whole.ties
        if one.target not in ("mass_g", "role") and (one.place is None or one.place.name not in names)
    ]
    made = []
    for place, word, sure in masses:
        own = [
            Tie(
                "role",
                None,
                min(0.9, 0.3 + 0.6 * sure),
                f"the column is named '{place.name}'",
                {"constant": word or "dry"},
            ),
            Tie("mass_g", place, 0.9, f"a mass in {place.unit or column.unit}"),
        ]
        ties = [
            one for one in shared if one.target != "water_temperature_c" or word in ("submerged", "container_water")
        ]
        made.append(RecordDraft("weighing", True, [*ties, *own], present=place.name))
    return [_with_method(one, [word for _, word, _ in masses]) for one in made]


def _with_method(draft: RecordDraft, roles: Sequence[str]) -> RecordDraft:
    """Add the test method the roles speak of, where no column names it."""
    if any(one.target == "method" for one in draft.ties):
        return draft
    place = next((one.place for one in draft.ties if one.target == "role" and one.place), None)
    role = describe("weighing").column("role")
    words = [*roles, *(match.word_of(text, role)[0] for text in (place.texts if place else ()))]
    listed = match.hints()["method_of_roles"]
    method = next((listed[word] for word in words if word in listed), None)
    if method is not None:
        tie = Tie("method", None, 0.6, "the roles of its masses are those of this method", {"constant": method})
        draft.ties.append(tie)
    return draft


def _lacking(draft: RecordDraft) -> list[ColumnDescription]:
    known = {one.target for one in draft.ties}
    return [
        column
        for column in describe(draft.record).columns
        if not column.nullable and column.name not in known and column.name not in _FILLED
    ]
