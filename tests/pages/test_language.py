"""Every text on the pages comes from the catalogue: in a made-up language no plain word is left but codes and units.

The catalogue of that language is the English one with each letter in another script, and so are, in a third script, the
texts of the data. Whatever is still in plain letters was written into the program.
"""

import importlib
import inspect
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from plugins.api import Scope
from plugins.renderers.verbs import words
from plugins.renderers.verbs.tables import TABLES
from plugins.renderers.verbs.words import word
from schemas import vocabulary
from schemas.units import CUSTOMARY, SUFFIXES
from tests.pages import invented, invented_report
from tests.pages.conftest import render
from tests.pages.plain import ISO_DAY, plain, texts

LANGUAGE = "qaa"  # ISO 639-2 keeps qaa to qtz for local use

#: Columns of codes, which pages look up; all other texts of the data are shown as they are.
CODES = {
    "property", "state", "stage", "verdict", "phase", "material", "record", "route", "method", "field", "flags", "code",
    "decision_rule", "composite_rule", "level", "basis", "side", "purpose", "signals", "published", "part",
    "finished_at", "work.kind", "report_changes.item",
}  # fmt: skip
#: Columns of codes, and the groups of the catalogue that name them, beside what the English catalogue holds.
NAMED = {
    "property": "property", "record": "record", "route": "route", "material": "material", "field": "field",
    "code": "flag", "signals": "signal", "published": "signal", "state": "mix_state", "purpose": "purpose",
}  # fmt: skip
#: Units, and letter symbols of the standards (AASHTO R 35), the same in every language.
UNITS = frozenset({*SUFFIXES, *CUSTOMARY.values(), "Gmm", "Gsb", "Gsa", "Pb", "Va", "VMA"})

_LETTERS = [chr(place) for place in (*range(ord("a"), ord("z") + 1), *range(ord("A"), ord("Z") + 1))]


def _other_script(lower: int, upper: int) -> dict[int, str]:
    places = [*range(lower, lower + 26), *range(upper, upper + 26)]
    return str.maketrans({letter: chr(place) for letter, place in zip(_LETTERS, places, strict=True)})


#: Cyrillic for the texts of the catalogue, Armenian for those of the data, whose hyphens cannot make a date either.
TEXT, DATA = _other_script(0x430, 0x410), _other_script(0x561, 0x531) | {ord("-"): "\u2010"}


def wrapped(text: str) -> str:
    """Return a text in the made-up language; gaps keep their names."""
    parts = words.pieces(text)
    return "".join(f"{{{part}}}" if at % 2 else part.translate(TEXT) for at, part in enumerate(parts))


def dressed(tables: dict[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Return the tables with all texts but codes in a script of their own, to be shown in the made-up language."""
    made = {}
    for name, frame in tables.items():
        shown = [
            column
            for column, kind in TABLES[name].items()
            if kind == pl.String and column in frame.columns and not {column, f"{name}.{column}"} & CODES
        ]
        # A Python loop over the texts of small invented tables.
        made[name] = frame.with_columns(
            pl.Series(
                column,
                [None if text is None else str(text).translate(DATA) for text in frame[column].to_list()],
                pl.String,
            )
            for column in shown
        )
    how = {"units": "si", "decimal_mark": "comma", "date_format": "dmy", "language": LANGUAGE}
    return made | {"presentation": pl.DataFrame([how])}


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def _catalogue(tables: dict[str, pl.DataFrame]) -> str:
    """Return the catalogue of the made-up language as TOML: the English texts, codes of the data, vocabularies."""
    said = dict(words.catalogue())
    for column, group in NAMED.items():
        codes = pl.concat([frame[column].cast(pl.String) for frame in tables.values() if column in frame.columns])
        said |= {
            f"{group}.{code}": code.replace("_", " ") for code in codes.drop_nulls().str.split(" ").explode().unique()
        }
    for _, each in inspect.getmembers(vocabulary, inspect.isclass):
        if issubclass(each, vocabulary.Word):
            said |= {f"{each.__name__}.{one.value}": one.definition for one in each}
    return "\n".join(
        f"{'.'.join(_quoted(part) for part in name.split('.'))} = {_quoted(wrapped(text))}"
        for name, text in said.items()
        if name != "name"
    )


def _report(tables: dict[str, pl.DataFrame]) -> dict[str, str]:
    (renderer,) = importlib.import_module("plugins.renderers.report").mixledger_renderers()
    return {f"report/{made.path}": made.content.decode() for made in renderer.render(tables, Scope())}


@pytest.fixture(scope="module")
def whole() -> dict[str, pl.DataFrame]:
    tables = invented.tables()
    return tables | invented_report.tables(tables["samples"])


@pytest.fixture(scope="module")
def pages(whole: dict[str, pl.DataFrame], tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """Give the pages in the made-up language: of the whole data, of a register without results, and of nothing."""
    folder = tmp_path_factory.mktemp("texts")
    shutil.copyfile(words.TEXTS / "en.toml", folder / "en.toml")
    (folder / f"{LANGUAGE}.toml").write_text(_catalogue(whole), encoding="utf-8")
    bare = {name: whole[name] for name in ("run", "projects", "samples", "properties", "reports")}
    cases = {"whole": whole, "bare": bare, "nothing": {}}
    made = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(words, "TEXTS", folder)
        for case, tables in cases.items():
            shown = dressed(tables)
            rendered = render(shown) | _report(shown)
            made |= {f"{case}/{path}": page for path, page in rendered.items()}
    yield made


def _kind(path: str) -> str:
    return path.split("/")[1].removesuffix(".html")


def _seen(pages: dict[str, str], kind: str) -> list[str]:
    found = [page for path, page in pages.items() if _kind(path) == kind]
    assert found, f"no page of kind {kind}"
    return [text for page in found for text in texts(page)]


KINDS = ("summary", "due", "quality", "project", "mix", "sample", "report")


def test_every_kind_of_page_is_looked_at(pages: dict[str, str]) -> None:
    assert {_kind(path) for path in pages} == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_no_plain_word_is_left(pages: dict[str, str], kind: str) -> None:
    seen = _seen(pages, kind)
    assert plain(seen, UNITS) == set()
    letters = "".join(seen)
    assert set(letters) & set(TEXT.values()) and set(letters) & set(DATA.values()), "texts and data are both there"


@pytest.mark.parametrize("kind", KINDS)
def test_every_day_is_in_the_format_asked_for(pages: dict[str, str], kind: str) -> None:
    assert {text for text in _seen(pages, kind) if ISO_DAY.search(text)} == set()


def test_the_script_writes_no_plain_word(browser: Any, pages: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "summary.html").write_text(pages["whole/summary.html"], encoding="utf-8")
    tab = browser.new_page()
    faults: list[str] = []
    tab.on("pageerror", lambda fault: faults.append(str(fault)))
    tab.goto((tmp_path / "summary.html").as_uri())
    # Without its own group the first project is of none that is stated.
    tab.evaluate("document.querySelector('#all [data-group=region]').remove()")
    tab.locator("select[name=group]").select_option("region")
    heads = tab.locator("#all tr.group th").all_inner_texts()
    assert any(head.startswith(wrapped(word("tools.unstated"))) for head in heads)
    assert tab.locator("output").inner_text() == wrapped(word("tools.shown")).format(shown=5, all=5)
    assert plain([tab.evaluate("document.body.innerText")], UNITS) == set()
    tab.close()
    assert not faults


def test_a_page_says_its_language(pages: dict[str, str]) -> None:
    assert all(f'<html lang="{LANGUAGE}">' in page for page in pages.values())
