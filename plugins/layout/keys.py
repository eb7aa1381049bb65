"""Keys of a layout, declared once as fields of dataclasses: the same declaration reads, checks and documents them."""

import dataclasses
import types
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, NamedTuple, TypeVar, Union, get_args, get_origin, get_type_hints

from plugins.layout.section import Section

T = TypeVar("T")
Scalar = str | int | float | bool


class UnitPlace(NamedTuple):
    """Where the export writes the unit of a field: beside its value, or once for all in a header key."""

    name: str
    header: bool = False


def key(
    sentence: str,
    *,
    default: Any = dataclasses.MISSING,
    factory: Callable[[], Any] | None = None,
    words: tuple[str, ...] = (),
    example: str = "",
    kinds: tuple[str, ...] = (),
    spelt: str = "",
) -> Any:
    """State one key of a layout.

    Parameters
    ----------
    sentence
        What it is for, as the reference page prints it.
    default, factory
        Value, or maker of the value, where the layout leaves the key out. With neither the key is needed.
    words
        The only words allowed.
    example
        How it is written, as TOML.
    kinds
        Kinds of layout it has a meaning in; none is every kind.
    spelt
        How the layout spells it, where that is not the name of the field.
    """
    metadata = {"sentence": sentence, "words": words, "example": example, "kinds": kinds, "spelt": spelt}
    if factory is not None:
        return dataclasses.field(default_factory=factory, metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


@cache
def _hints(model: Any) -> Mapping[str, Any]:
    return get_type_hints(model)


@cache
def keys(model: Any) -> tuple[dataclasses.Field[Any], ...]:
    """Return the declared keys of a model, in order; fields the engine fills itself are left out."""
    return tuple(field for field in dataclasses.fields(model) if "sentence" in field.metadata)


def spelling(field: dataclasses.Field[Any]) -> str:
    """Return how a layout spells the key."""
    return str(field.metadata["spelt"] or field.name)


def build(model: type[T], section: Section, **filled: object) -> T:
    """Read one section of a layout as a model; `filled` are the fields the engine fills itself.

    Raises
    ------
    plugins.layout.section.LayoutError
        At the line of a key that is wrong, unknown or lacking.
    """
    declared: Any = model
    hints = _hints(declared)
    values = dict(filled)
    for field in keys(declared):
        name = spelling(field)
        section.known.add(name)
        if name in section.data:
            kinds = field.metadata["kinds"]
            if kinds and section.kind not in kinds:
                meant = " or ".join(f"'{kind}'" for kind in kinds)
                raise section.fault(f"'{name}' has a meaning in layouts of kind {meant}; take it out", name)
            values[field.name] = _read(section, field, hints[field.name])
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            example = field.metadata["example"]
            raise section.fault(
                f"{section.title()} lacks '{name}'" + (f"; write {name} = {example}" if example else "")
            )
    section.done()
    return model(**values)


def inner(hint: Any) -> Any:
    """Return the type a key holds where it is there: `X | None` is X."""
    if get_origin(hint) in (Union, types.UnionType):
        kept = [one for one in get_args(hint) if one is not type(None)]
        return kept[0] if len(kept) == 1 else Scalar
    return hint


def _read(section: Section, field: dataclasses.Field[Any], hint: Any) -> Any:
    name, kind = spelling(field), inner(hint)
    if field.metadata["words"]:
        return section.choice(name, field.metadata["words"])
    if dataclasses.is_dataclass(kind):
        found = section.inner(name)
        return build(kind, found) if found is not None else None  # type: ignore[arg-type]
    reader = _READERS.get(kind)
    if reader is not None:
        return reader(section, name)
    if get_origin(kind) is tuple:
        return tuple(build(get_args(kind)[0], item) for item in section.items(name))
    model = get_args(kind)[1]
    return section.named(name, lambda one, title: _named(model, one, title))


def _named(model: type, section: Section, title: str) -> Any:
    named = {"name": title} if any(field.name == "name" for field in dataclasses.fields(model)) else {}
    return build(model, section, **named)


def _texts_by_name(section: Section, name: str) -> dict[str, str]:
    outer = section.inner(name)
    return {each: outer.need_text(each) for each in outer.data} if outer else {}


def _spans_by_name(section: Section, name: str) -> dict[str, tuple[int, int]]:
    outer = section.inner(name)
    return {each: outer.span(each) for each in outer.data} if outer else {}


def _words_by_name(section: Section, name: str) -> dict[str, dict[str, str]]:
    return section.named(name, lambda one, _: {each.casefold(): str(one.need_scalar(each)) for each in one.data})


def _marks(section: Section, name: str) -> tuple[Mapping[str, Scalar], ...]:
    return tuple(dict(item.data) for item in section.items(name))


def _unit_place(section: Section, name: str) -> UnitPlace:
    if not isinstance(section.data[name], dict):
        return UnitPlace(section.need_text(name))
    outer = section.inner(name)
    assert outer is not None  # noqa: S101 - for the type checker: it is a table
    place = UnitPlace(outer.need_text("header"), header=True)
    outer.done()
    return place


#: Type of a key -> how it is read.
_READERS: dict[Any, Callable[[Section, str], Any]] = {
    str: Section.need_text,
    int: Section.need_whole,
    float: Section.number,
    bool: Section.flag,
    Scalar: Section.scalar,
    UnitPlace: _unit_place,
    tuple[str, ...]: Section.texts,
    tuple[int, int]: Section.span,
    dict[str, str]: _texts_by_name,
    dict[str, tuple[int, int]]: _spans_by_name,
    dict[str, dict[str, str]]: _words_by_name,
    tuple[Mapping[str, Scalar], ...]: _marks,
}

#: Type of a key -> how the reference page calls it.
TITLES: dict[Any, str] = {
    str: "text",
    int: "whole number",
    float: "number",
    bool: "true or false",
    Scalar: "text, number, true or false",
    UnitPlace: "text, or `{ header = text }`",
    tuple[str, ...]: "text or list of texts",
    tuple[int, int]: "two whole numbers, first and last",
    dict[str, str]: "table of texts",
    dict[str, tuple[int, int]]: "table of names, each with its first and last place",
    dict[str, dict[str, str]]: "lists by name: word of the export = word or number it stands for",
    tuple[Mapping[str, Scalar], ...]: "list of tables of marks",
}
