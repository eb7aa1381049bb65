"""What kind of values texts are: numbers with their marks, dates with their forms, units in names."""

import re
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cache

_NUMBER = re.compile(r"[-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?")
_WORD = re.compile(r"[a-zà-öø-ÿ]+|\d+", re.IGNORECASE)

#: Forms of dates that exports write, the unambiguous ones first.
_DAYS = ("%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y", "%d.%m.%y", "%d/%m/%Y", "%m/%d/%Y", "%d/%m/%y", "%m/%d/%y", "%d-%m-%Y",
         "%m-%d-%Y", "%Y%m%d", "%d %b %Y", "%d-%b-%Y")  # fmt: skip
_TIMES = ("%H:%M:%S", "%H:%M", "%I:%M %p", "%I:%M:%S %p")
FORMS = (*(f"{day}{gap}{time}" for day in _DAYS for gap in (" ", "T") for time in _TIMES), *_DAYS)

#: How exports spell units in names and cells -> the spelling layouts use.
UNITS = {
    "g": "g", "gram": "g", "grams": "g", "kg": "kg", "lb": "lb", "lbs": "lb", "oz": "oz", "mm": "mm", "cm": "cm",
    "in": "in", "inch": "in", "inches": "in", "m": "m", "ft": "ft", "c": "°C", "°c": "°C", "degc": "°C", "f": "°F",
    "°f": "°F", "degf": "°F", "kpa": "kPa", "mpa": "MPa", "psi": "psi", "mmhg": "mmHg", "torr": "torr", "n": "N",
    "kn": "kN", "lbf": "lbf", "%": "%", "pct": "%", "percent": "%", "s": "s", "sec": "s", "min": "min", "h": "h",
    "deg": "°", "°": "°", "mm/min": "mm/min", "in/min": "in/min", "1/min": "1/min", "rpm": "1/min", "per": "",
}  # fmt: skip


def number(text: str, decimal: str = ".") -> float | None:
    """Return the number a text is, or None."""
    plain = text.strip().replace(decimal, ".") if decimal != "." else text.strip()
    return float(plain) if _NUMBER.fullmatch(plain) and plain.count(",") == 0 else None


def looks_numeric(text: str) -> bool:
    """Return whether a text may be a number, whatever its marks."""
    return re.fullmatch(r"[-+]?\d[\d.,']*(?:[eE][-+]?\d+)?", text.strip()) is not None


def decimal_mark(texts: Iterable[str]) -> tuple[str, str | None, str, float]:
    """Return decimal mark, thousands mark, reason and confidence."""
    numbers = [text.strip() for text in texts if looks_numeric(text)]
    commas = [text for text in numbers if re.fullmatch(r"[-+]?\d+,\d+", text)]
    points = [text for text in numbers if re.fullmatch(r"[-+]?\d+\.\d+", text)]
    both = [text for text in numbers if "." in text and "," in text]
    if both:
        last = "," if both[0].rfind(",") > both[0].rfind(".") else "."
        other = "." if last == "," else ","
        return last, other, f"'{both[0]}' has both marks, the last is the decimal mark", 0.95
    if commas and not points:
        thousands = all(re.fullmatch(r"[-+]?\d{1,3},\d{3}", text) for text in commas)
        doubt = ", which could be thousands" if thousands else ""
        return (
            ",",
            None,
            f"{len(commas)} numbers have a comma, none has a point, such as '{commas[0]}'{doubt}",
            (0.5 if thousands else 0.95),
        )
    if points:
        return ".", None, f"{len(points)} numbers have a point, such as '{points[0]}'", 0.95
    return ".", None, "no number has a mark", 0.8


@cache
def _fits(text: str, form: str) -> bool:
    try:
        datetime.strptime(text, form)
    except ValueError:
        return False
    return len(text) > 5


def date_forms(texts: Sequence[str]) -> list[str]:
    """Return the forms all texts have, the likeliest first; more than one means that the day is ambiguous."""
    given = [text.strip() for text in texts if text.strip()][:50]
    if not given or _NUMBER.fullmatch(given[0]) or not any(mark in given[0] for mark in "-/.: "):
        return []
    return [form for form in FORMS if all(_fits(text, form) for text in given)]


def tokens(text: str) -> list[str]:
    """Return the words of a name in lower case: parted at marks, digits and capitals inside."""
    parted = re.sub(r"([a-z])([A-Z])", r"\1 \2", text)
    return [word.lower() for word in _WORD.findall(parted)]


def unit_of(name: str) -> str | None:
    """Return the unit a name ends in or has in brackets, as layouts spell it."""
    bracketed = re.search(r"[\[(]([^\])]+)[\])]\s*$", name)
    last = bracketed[1] if bracketed else re.split(r"[\s_,]+", name.strip())[-1]
    if not bracketed and len(re.split(r"[\s_,]+", name.strip())) == 1 and last.lower() not in UNITS:
        return None
    return UNITS.get(last.strip().lower()) or None
