"""The reference of the layout language, written from the model itself: every section, key, default and meaning."""

import dataclasses
import inspect
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, get_args, get_origin, get_type_hints

from plugins.layout.keys import TITLES, inner, keys, spelling
from plugins.layout.model import FieldPlan, Layout, RecordKeys


@dataclass(frozen=True)
class KeyReference:
    """One key as the reference prints it."""

    key: str
    holds: str
    default: str
    sentence: str
    kinds: tuple[str, ...]
    words: tuple[str, ...]
    example: str


@dataclass(frozen=True)
class SectionReference:
    """One section: its name in the layout, what it is for, its keys."""

    section: str
    sentence: str
    keys: tuple[KeyReference, ...]


def sections() -> tuple[SectionReference, ...]:
    """Return every section of the language, in the order in which a layout is written."""
    records = (*_walk("[[record]]", RecordKeys), *_walk("[record.fields] and [common]: each field", FieldPlan))
    return (*_walk("top of the layout", Layout), *records)


def _walk(name: str, model: Any) -> Iterator[SectionReference]:
    hints = get_type_hints(model)
    inside: list[tuple[str, Any]] = []
    rows = []
    for field in keys(model):
        hint = inner(hints[field.name])
        found = _model(hint)
        if found is not None:
            inside.append((_inner_name(name, spelling(field), hint), found))
        rows.append(_key(field, hint, found))
    sentence = (inspect.getdoc(model) or "").replace("\n", " ")
    yield SectionReference(name, sentence, tuple(rows))
    for title, found in inside:
        yield from _walk(title, found)


def _model(hint: Any) -> Any | None:
    if dataclasses.is_dataclass(hint):
        return hint
    return next((one for one in get_args(hint) if dataclasses.is_dataclass(one)), None)


def _inner_name(name: str, key: str, hint: Any) -> str:
    outer = "" if name.startswith("top") else name.strip("[]") + "."
    return f"[{outer}{key}.<name>]" if get_origin(hint) is dict else f"[{outer}{key}]"


def _key(field: dataclasses.Field[Any], hint: Any, found: Any | None) -> KeyReference:
    about = field.metadata
    holds = _holds(hint) if found is not None else TITLES.get(hint, "one of the words")
    return KeyReference(
        key=spelling(field),
        holds="one of the words" if about["words"] else holds,
        default=_default(field),
        sentence=about["sentence"],
        kinds=about["kinds"],
        words=about["words"],
        example=about["example"],
    )


def _holds(hint: Any) -> str:
    if dataclasses.is_dataclass(hint):
        return "section"
    return "sections by name" if get_origin(hint) is dict else "list of tables"


def _default(field: dataclasses.Field[Any]) -> str:
    if field.default is dataclasses.MISSING:
        return "needed" if field.default_factory is dataclasses.MISSING else ""
    value = field.default
    if value is None or value in ((), ""):
        return ""
    if isinstance(value, tuple):
        return ", ".join(str(one) for one in value)
    return str(value).lower() if isinstance(value, bool) else str(value)


_LEAD = """\
# The layout language

A layout is a TOML file. Everything below is read from the model that reads layouts: what is not here does not
exist, and a key that is wrong is shown with its line. Patterns are regular expressions without look-around.
"""


def markdown() -> str:
    """Return the reference as a page of Markdown."""
    lines = [_LEAD]
    for section in sections():
        lines += [f"## {section.section}", "", section.sentence, ""]
        lines += ["| key | holds | without it | meaning |", "|---|---|---|---|"]
        lines += [*(_line(one) for one in section.keys), ""]
    return "\n".join(lines)


def _line(one: KeyReference) -> str:
    parts = [one.sentence]
    if one.words:
        parts.append("Words: " + ", ".join(f"`{word}`" for word in one.words) + ".")
    if one.kinds:
        parts.append("Kinds: " + ", ".join(one.kinds) + ".")
    if one.example:
        parts.append(f"Such as `{one.example}`.")
    cells = (f"`{one.key}`", one.holds, f"`{one.default}`" if one.default and one.default != "needed" else one.default)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in (*cells, " ".join(parts))) + " |"
