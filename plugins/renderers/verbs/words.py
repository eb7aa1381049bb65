"""Texts by short name, in the language that is asked for: one catalogue per language, beside the templates."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl

from plugins.renderers.verbs.presentation import current
from schemas.vocabulary import Word

#: Where the catalogues lie; another folder has to hold the English one, too.
TEXTS = Path(__file__).parent.parent / "texts"
_FIRST = "en"
_GAP = re.compile(r"\{(\w+)\}")


class CatalogueError(ValueError):
    """A catalogue of texts cannot be used."""


def languages() -> tuple[str, ...]:
    """Return the languages there is a catalogue of."""
    return tuple(sorted(found.stem for found in TEXTS.glob("*.toml")))


def _texts(given: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """Yield every text by the names of its groups and its own, joined by points."""
    for name, text in given.items():
        if isinstance(text, dict):
            yield from _texts(text, f"{before}{name}.")
        else:
            yield before + name, text


def _gaps(text: str) -> list[str]:
    """Return the gaps of a text: named ones once each, then nameless ones and stray braces one by one."""
    named = sorted({f"{{{name}}}" for name in _GAP.findall(text)})
    return named + re.findall(r"\{\}|[{}]", _GAP.sub("", text))


@cache
def _catalogue(folder: Path, language: str) -> dict[str, str]:
    path = folder / f"{language}.toml"
    if not path.is_file():
        return {}
    try:
        texts = dict(_texts(tomllib.loads(path.read_text(encoding="utf-8"))))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise CatalogueError(f"{path.name} is no catalogue of texts: {fault}; expected TOML in UTF-8") from fault
    first = texts if language == _FIRST else _catalogue(folder, _FIRST)
    for name, text in texts.items():
        if not isinstance(text, str):
            raise CatalogueError(f"{path.name}, {name}: found {text!r}; expected a text in quotes")
        gaps = _gaps(first.get(name, text))
        if _gaps(text) != gaps:
            expected = " ".join(gaps) or "none"
            raise CatalogueError(
                f"{path.name}, {name}: expected these gaps and no other brace: {expected}; found '{text}'"
            )
    return texts


def check(language: str) -> None:
    """Read the catalogue of a language.

    Raises
    ------
    CatalogueError
        When it is no TOML, or a text has other gaps than the English one.
    """
    _catalogue(TEXTS, language)


def catalogue() -> dict[str, str]:
    """Return all texts by name as they are shown: in English where the language asked for lacks them."""
    return _catalogue(TEXTS, _FIRST) | _catalogue(TEXTS, current().language)


def group(name: str) -> dict[str, str]:
    """Return the texts of a group, by their names within it: those of the English catalogue first, in its order."""
    start = name + "."
    return {each.removeprefix(start): text for each, text in catalogue().items() if each.startswith(start)}


def word(name: str, **gaps: object) -> str:
    """Return a text, its gaps filled; in English where the language asked for lacks it.

    Raises
    ------
    KeyError
        When no catalogue has that name.
    """
    text = _catalogue(TEXTS, current().language).get(name) or _catalogue(TEXTS, _FIRST)[name]
    return text.format(**gaps) if gaps else text


def filled(name: str, **gaps: pl.Expr) -> pl.Expr:
    """Return a text for each row, its gaps filled from expressions; null where one of them is null."""
    # Every other piece is the name of a gap.
    return pl.concat_str(gaps[piece] if at % 2 else pl.lit(piece) for at, piece in enumerate(pieces(word(name))))


def pieces(text: str) -> list[str]:
    """Return a text cut at its gaps: every other piece is the name of a gap."""
    return _GAP.split(text)


def capital(text: str) -> str:
    """Return a text with a capital letter in front, as a head begins."""
    return text[:1].upper() + text[1:]


def spoken(name: str, code: pl.Expr) -> pl.Expr:
    """Return what codes are called in a group of the catalogue; one it lacks is its own name, with spaces."""
    own = code.str.replace_all("_", " ", literal=True)
    return code.replace_strict(group(name), default=own, return_dtype=pl.String)


def defined(each: Word) -> str:
    """Return the definition of a word of a closed vocabulary; a catalogue may word it in its group of that name."""
    return catalogue().get(f"{type(each).__name__}.{each.value}") or each.definition
