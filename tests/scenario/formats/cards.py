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


def mix_card(head: Mapping[str, Value], gyrations: Mapping[str, Value], gradation: Mapping[float, float]) -> bytes:
    """Return one mix card: head fields, gyration levels, target passing (%) by sieve (mm). None is left out."""
    lines = [
        'kind = "mix card"',
        *_pairs(head),
        "",
        "[gyrations]",
        *_pairs(gyrations),
        "",
        "[gradation]",
        *(f'"{sieve:g}" = {passing!r}' for sieve, passing in gradation.items()),
        "",
    ]
    return "\n".join(lines).encode()


def limits_card(head: Mapping[str, Value], limits: Iterable[Mapping[str, Value]]) -> bytes:
    """Return one limits card: head fields and one [[limit]] table per limit. None is left out."""
    lines = ['kind = "limits card"', *_pairs(head)]
    for limit in limits:
        lines += ["", "[[limit]]", *_pairs(limit)]
    return "\n".join([*lines, ""]).encode()
