"""Whether the values of a row stand at the place it names."""

from plugins.contract import compare
from plugins.contract.places import Places, numbers_in, stands
from schemas.describe import describe

#: Most lines a row may have for itself.
_BLOCK = 40


def misplaced(row: dict[str, object], record: str, places: Places, starts: list[int]) -> str | None:
    """Return what is wrong with the place of a row, nothing where it is right, None where it cannot be looked up.

    `starts` are the lines of all rows of the record: a row that opens a block has it up to the next row for itself.
    """
    part, line = row.get("source_part"), row.get("source_line")
    part = part if isinstance(part, str) else None
    if not isinstance(line, int) or line < 1:
        return f"a row names no line ({line!r})"
    count = places.count(part)
    if count is None or line > count:
        return None if count is None else f"{part or 'the file'}, line {line} does not exist; there are {count}"
    return _beside(row, record, places, starts, part, line)


def _beside(row: dict[str, object], record: str, places: Places, starts: list[int], part: str | None, line: int) -> str:
    """Compare what stands on the row's own lines with what stands on the lines before and after them."""
    where = f"{part}, line {line}" if part else f"line {line}"
    end = next((start for start in starts if start > line), line + _BLOCK)
    block = [places.at(part, number) or "" for number in range(line, min(end, line + _BLOCK))]
    own = _standing(row, record, "\n".join(block))
    around = set().union(*(_standing(row, record, places.at(part, n) or "") for n in (line - 1, end)))
    measured = {column.name for column in describe(record).columns if column.unit}
    if own - around or own & measured or (own and not around - own):
        return ""
    if line == 1 and _standing(row, record, places.anywhere()):
        return ""  # a row of the whole export: its values stand in the header
    if around - own:
        return f"'{sorted(around - own)[0]}' does not stand on {where} but on a line beside it"
    return f"no value of the row stands on {where}"


def _standing(row: dict[str, object], record: str, text: str) -> set[str]:
    numbers = numbers_in(text)
    units = {column.name: column.unit for column in describe(record).columns}
    return {
        name
        for name, value in row.items()
        if name not in compare.PLACE and name in units and stands(value, units[name], text, numbers)
    }
