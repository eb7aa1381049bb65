"""The data dictionary as text, markdown and page; generated from schemas, registry and view headers."""

from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from importlib.metadata import version

from pipeline.formulas import registry
from warehouse import dictionary as made
from warehouse.dictionary import Column, Dictionary, Relation
from warehouse.errors import QueryRefusedError

#: Kinds of relations in the order they are shown, each with a heading.
KINDS = {
    "view": "Views by question family",
    "register and observations": "Register and observations, as exports gave them",
    "results": "Results, refusals, runs and exports",
    "long series": "Long series",
    "macro": "Macros: looking back, and what rests on what",
    "own": "Catalogues and bookkeeping",
}


def dictionary(name: str | None = None) -> Dictionary:
    """Return the dictionary of the installed version, or the part of it about one relation.

    Raises
    ------
    QueryRefusedError
        For a relation that does not exist, with near names.
    """
    known = registry.load()
    whole = made.build(known.properties(), known.flags(), known.wide_columns())
    if name is None:
        return whole
    found = tuple(each for each in whole.relations if each.name.partition("(")[0] == name)
    if not found:
        names = [each.name.partition("(")[0] for each in whole.relations]
        near = get_close_matches(name, names, n=3)
        hint = f"Did you mean {' or '.join(near)}?" if near else "`mixledger dictionary` lists them."
        raise QueryRefusedError(f"The warehouse has no table or view '{name}'.", hint)
    words = {column.vocabulary for each in found for column in each.columns}
    vocabularies = {key: values for key, values in whole.vocabularies.items() if key in words}
    return Dictionary(found, vocabularies, ())


def by_kind(relations: Iterable[Relation]) -> Iterator[tuple[str, list[Relation]]]:
    """Yield heading and relations, kind by kind; nothing for a kind without any."""
    shown = list(relations)
    for kind, heading in KINDS.items():
        found = [each for each in shown if each.kind == kind]
        if found:
            yield heading, found


def summary(found: Dictionary) -> list[tuple[object, ...]]:
    """Return one row per relation: name, kind or family, columns, sentence."""
    return [
        (each.name, each.family or each.kind, len(each.columns) or None, each.sentence)
        for _, relations in by_kind(found.relations)
        for each in relations
    ]


def marks(column: Column) -> str:
    """Return in words what else is to be known of a column: key, reference, null."""
    told = [
        "key" if column.in_key else "",
        f"names a {column.refers_to}" if column.refers_to else "",
        "" if column.nullable is None else "may be null" if column.nullable else "never null",
    ]
    return ", ".join(filter(None, told))


def lines(relation: Relation) -> Iterator[str]:
    """Yield one relation in full, as lines of text."""
    yield f"{relation.name}: {relation.sentence}"
    if relation.grain:
        yield f"  one row per {relation.grain}"
    if relation.cautions:
        yield f"  cautions: {relation.cautions}"
    for column in relation.columns:
        yield f"  {column.name} ({column.type}; {marks(column)}): {column.sentence}"


def word_lines(found: Dictionary) -> Iterator[str]:
    """Yield the closed vocabularies, as lines of text."""
    for name, words in found.vocabularies.items():
        yield f"{name}:"
        yield from (f"  {word}: {definition}" for word, definition in words.items())


def markdown(found: Dictionary) -> str:
    """Return the dictionary in markdown."""
    parts = ["# Data dictionary", "", f"Generated from mixledger {version('mixledger')}.", ""]
    for heading, relations in by_kind(found.relations):
        parts += [f"## {heading}", ""]
        for relation in relations:
            parts += [*_section(relation), ""]
    if found.vocabularies:
        parts += ["## Closed vocabularies", "", *_rows(("vocabulary", "word", "meaning"), _words(found)), ""]
    if found.properties:
        shown = ("property", "symbol", "unit", "decimals", "name", "equation", "standard")
        parts += ["## Properties", "", *_rows(shown, ([each[key] for key in shown] for each in found.properties)), ""]
    return "\n".join(parts)


def _words(found: Dictionary) -> Iterator[tuple[str, str, str]]:
    for name, words in found.vocabularies.items():
        for word, definition in words.items():
            yield name, word, definition


def _section(relation: Relation) -> Iterator[str]:
    yield f"### {relation.name}"
    yield ""
    grain = f" One row per {relation.grain}." if relation.grain else ""
    cautions = f" Cautions: {relation.cautions}" if relation.cautions else ""
    yield f"{relation.sentence}{grain}{cautions}"
    if relation.columns:
        yield ""
        told = [(each.name, each.type, marks(each), each.sentence) for each in relation.columns]
        yield from _rows(("column", "type", "", "holds"), told)


def _rows(heading: Iterable[str], rows: Iterable[Iterable[object]]) -> Iterator[str]:
    titles = list(heading)
    yield f"| {' | '.join(titles)} |"
    yield f"|{'---|' * len(titles)}"
    for row in rows:
        yield "| " + " | ".join("" if cell is None else str(cell).replace("|", "\\|") for cell in row) + " |"


def page(found: Dictionary) -> bytes:
    """Return the dictionary as one self-contained page, in UTF-8."""
    from plugins.renderers.verbs.shell import page as whole

    return whole(
        "dictionary.html",
        f"Generated from schemas, formulas and views of mixledger {version('mixledger')}.",
        kinds=[
            {
                "heading": heading,
                "relations": [{"relation": each, "marks": list(map(marks, each.columns))} for each in shown],
            }
            for heading, shown in by_kind(found.relations)
        ],
        vocabularies=found.vocabularies,
        properties=found.properties,
    )
