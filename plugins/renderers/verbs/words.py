"""Texts by short name, in the language that is asked for: one catalogue per language, beside the templates."""

import re
import tomllib
from functools import cache
from pathlib import Path

import polars as pl

from plugins.renderers.verbs.presentation import current
from schemas.vocabulary import Word

_TEXTS = Path(__file__).parent.parent / "texts"
_FIRST = "en"
_GAP = re.compile(r"\{(\w+)\}")


def languages() -> tuple[str, ...]:
    """Return the languages there is a catalogue of."""
    return tuple(sorted(found.stem for found in _TEXTS.glob("*.toml")))


@cache
def _catalogue(language: str) -> dict[str, str]:
    path = _TEXTS / f"{language}.toml"
    if language not in languages():
        return {}
    given = tomllib.loads(path.read_text(encoding="utf-8"))
    return {
        f"{group}.{name}": text
        for group, texts in given.items()
        if isinstance(texts, dict)
        for name, text in texts.items()
    }


def group(name: str) -> dict[str, str]:
    """Return the texts of a group, by their names within it, in the order of the English catalogue."""
    start = name + "."
    return {each.removeprefix(start): word(each) for each in _catalogue(_FIRST) if each.startswith(start)}


def word(name: str, **gaps: object) -> str:
    """Return a text, its gaps filled; in English where the language asked for lacks it.

    Raises
    ------
    KeyError
        When no catalogue has that name.
    """
    text = _catalogue(current().language).get(name) or _catalogue(_FIRST)[name]
    return text.format(**gaps) if gaps else text


def filled(name: str, **gaps: pl.Expr) -> pl.Expr:
    """Return a text for each row, its gaps filled from expressions; null where one of them is null."""
    pieces = _GAP.split(word(name))
    # Every other piece is the name of a gap.
    return pl.concat_str(gaps[piece] if at % 2 else pl.lit(piece) for at, piece in enumerate(pieces))


def defined(each: Word) -> str:
    """Return the definition of a word of a closed vocabulary; a catalogue may word it in its group of that name."""
    said = _catalogue(current().language).get(f"{type(each).__name__}.{each.value}")
    return said or each.definition
