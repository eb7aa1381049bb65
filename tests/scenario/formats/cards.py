"""Write mix cards and limits cards as TOML text, in a fixed order of keys."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

Value = str | float | int | bool | date | datetime | Sequence[str] | None


def _value(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%dT%H:%M:%S}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return "[" + ", ".join(_value(item) for item in value or ()) + "]"


def _pairs(fields: Mapping[str, Value]) -> Iterable[str]:
    return (f"{key} = {_value(value)}" for key, value in fields.items() if value is not None)


def mix_card(
    head: Mapping[str, Value],
    gyrations: Mapping[str, Value],
    gradation: Mapping[float, float],
    stockpiles: Sequence[Mapping[str, Value]] = (),
) -> bytes:
    """Return one mix card: head fields, stockpiles, gyration levels, target passing (%) by sieve (mm).

    None is left out. The stockpiles stand in one bracket, so that a card cut off among them is no TOML.
    """
    blend = ["stockpiles = [", *(f"  {{ {', '.join(_pairs(each))} }}," for each in stockpiles), "]"]
    lines = [
        'kind = "mix card"',
        *_pairs(head),
        *(blend if stockpiles else ()),
        "",
        "[gyrations]",
        *_pairs(gyrations),
        "",
        "[gradation]",
        *(f'"{sieve:g}" = {passing!r}' for sieve, passing in gradation.items()),
        "",
    ]
    return "\n".join(lines).encode()


def limits_card(
    head: Mapping[str, Value],
    sections: Mapping[str, Mapping[str, Value]],
    rows: Mapping[str, Iterable[Mapping[str, Value]]],
) -> bytes:
    """Return one limits card: head fields, sections of rules, and one [[name]] table per row. None is left out."""
    lines = ['kind = "limits card"', *_pairs(head)]
    for name, fields in sections.items():
        lines += ["", f"[{name}]", *_pairs(fields)]
    for name, listed in rows.items():
        for row in listed:
            lines += ["", f"[[{name}]]", *_pairs(row)]
    return "\n".join([*lines, ""]).encode()
