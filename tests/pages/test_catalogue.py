"""No text is written into a section or a template; catalogues are read strictly; what they lack is English."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest

from pipeline.presenting import dressed
from pipeline.rounding import Rule
from pipeline.settings import Pages, SettingsError
from plugins.renderers.verbs import words
from plugins.renderers.verbs.figures import counted, counted_each
from plugins.renderers.verbs.markup import fill, phrase
from plugins.renderers.verbs.presentation import Presentation, month, shown_as
from plugins.renderers.verbs.results import names
from plugins.renderers.verbs.words import CatalogueError, defined, group, spoken, word
from schemas.vocabulary import DecisionRule

RENDERERS = words.TEXTS.parent
#: All modules but the one that lists columns in rows of names.
MODULES = sorted(path for path in RENDERERS.glob("*/*.py") if path.name != "tables.py")
#: Generated reference pages, whose content is English.
GENERATED = {"dictionary.html", "methods.html", "validation.html"}
#: Classes of the style sheet, which are handed on by themselves.
CLASSES = {"cards", "report", "results", "tally", "spec", "matrix", "tight", "figured"}

_TAG, _GAP = re.compile(r"<[^<>]*>?|^[^<>]*>"), re.compile(r"\{\w*\}")
_WORD, _SENTENCE = re.compile(r"[A-Za-z]{2,}"), re.compile(r"[A-Za-z]{2,}[,.:;]? [A-Za-z]{2,}")


def _literals(source: str) -> Iterator[str]:
    """Yield the string literals of a module but its docstrings and the messages of errors; f-strings without values."""
    tree = ast.parse(source)
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr | ast.Raise):
            skipped |= {id(each) for each in ast.walk(node)} if _says(node) else set()
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.JoinedStr):
            skipped |= {id(each) for each in node.values}
            yield "".join(str(each.value) if isinstance(each, ast.Constant) else "{}" for each in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def _says(node: ast.Expr | ast.Raise) -> bool:
    return isinstance(node, ast.Raise) or isinstance(node.value, ast.Constant)


def written(source: str) -> set[str]:
    """Return the literals of a module that hold words to be shown: beside markup, or several in a row."""
    found = set()
    for text in _literals(source):
        if text.startswith("@page"):  # a rule of a style sheet
            continue
        bare = _GAP.sub("", _TAG.sub("", text)).strip()
        if _WORD.search(bare) if "<" in text else _SENTENCE.search(bare) and not set(bare.split()) <= CLASSES:
            found.add(text)
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.name)
def test_no_text_is_written_into_a_module(path: Path) -> None:
    found = written(path.read_text(encoding="utf-8"))
    assert found == set()


@pytest.mark.parametrize("path", sorted((RENDERERS / "templates").glob("*.html")), ids=lambda path: path.name)
def test_no_text_is_written_into_a_template(path: Path) -> None:
    source = re.sub(r"<style>.*?</style>|{{.*?}}|{%.*?%}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    found = {text.strip() for text in re.split(r"<[^<>]*>", source) if _WORD.search(text)}
    assert bool(found) == (path.name in GENERATED), found or "nothing is left in it: take it off the list"


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("x = '<b>Result</b>'", {"<b>Result</b>"}),
        ("x = f'<b>{y} outside</b>'", {"<b>{} outside</b>"}),
        ("x = pl.lit('no limit')", {"no limit"}),
        ("x = ' of {all} listed'", set()),
        ("x = '<span class=\"mark fail\">{word}</span>', 'cards report'", set()),
        ("raise ValueError('expected a text in quotes')", set()),
    ],
)
def test_what_counts_as_written(source: str, found: set[str]) -> None:
    assert written(source) == found


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "en.toml").write_bytes((words.TEXTS / "en.toml").read_bytes())
    monkeypatch.setattr(words, "TEXTS", tmp_path)
    return tmp_path


def test_a_language_words_what_it_likes_and_english_the_rest(folder: Path) -> None:
    catalogue = """
        verdict.within = "drin"
        count.sample = { one = "{n} Probe", other = "{n} Proben" }
        property.gmb = "Raumdichte & mehr"
        record.weighing = "Wägung"
        DecisionRule.simple = "ohne Schutzabstand"
    """
    (folder / "de.toml").write_text(catalogue, encoding="utf-8")
    keys = pl.DataFrame({"property": ["gmb", "gmm"], "point": [None, None]}, schema_overrides={"point": pl.Float64})
    with shown_as(Presentation(language="de")):
        assert (word("verdict.within"), word("verdict.above")) == ("drin", "above")
        assert [counted(1, "sample"), counted(2, "sample"), counted(2, "item")] == ["1 Probe", "2 Proben", "2 items"]
        frame = pl.DataFrame({"n": [1, 3, None], "code": ["weighing", "wheel_track", None]})
        each = frame.select(counted_each(pl.col("n"), "sample"), spoken("record", pl.col("code")).alias("said"))
        assert each.rows() == [("1 Probe", "Wägung"), ("3 Proben", "wheel track"), (None, None)]
        assert names(keys, {})["title"].to_list() == ["Raumdichte & mehr", "Gmm"]
        assert defined(DecisionRule.SIMPLE) == "ohne Schutzabstand"
        assert list(group("property")) == ["gmb"]
    assert names(keys, {})["title"].to_list() == ["Gmb", "Gmm"]
    assert defined(DecisionRule.SIMPLE) == DecisionRule.SIMPLE.definition


def test_a_text_with_markup_or_braces_stays_a_text(folder: Path) -> None:
    (folder / "de.toml").write_text("""due.by = '<b>"bis" & {day}</b>'""", encoding="utf-8")
    frame = pl.DataFrame({"day": ["3 < 4"]})
    with shown_as(Presentation(language="de")):
        told = frame.select(
            phrase("due.by", day=pl.col("day")), phrase("due.by", day_html=fill("<i>{day}</i>")).alias("b")
        ).row(0)
    around = "&lt;b&gt;&quot;bis&quot; &amp; {}&lt;/b&gt;"
    assert told == (around.format("3 &lt; 4"), around.format("<i>3 &lt; 4</i>"))


@pytest.mark.parametrize(
    ("catalogue", "told"),
    [
        ('due.by = "bis"', r"de.toml, due.by: expected these gaps and no other brace: {day}; found 'bis'"),
        ('due.by = "bis {tag}"', r"expected these gaps and no other brace: {day}; found"),
        ('due.by = "bis {day} {"', r"expected these gaps and no other brace: {day}; found"),
        ("due.by = 3", r"de.toml, due.by: found 3; expected a text in quotes"),
        ("due.by = ", r"de.toml is no catalogue of texts: .*; expected TOML in UTF-8"),
    ],
)
def test_a_catalogue_that_cannot_be_used_is_told(folder: Path, catalogue: str, told: str) -> None:
    (folder / "de.toml").write_text(catalogue, encoding="utf-8")
    with pytest.raises(SettingsError, match=r"\[pages\] language: .*" + told):
        dressed({}, Pages(language="de"), Rule.HALF_EVEN)
    with pytest.raises(CatalogueError):
        words.check("de")


@pytest.mark.parametrize(
    ("pattern", "shown"), [("%Y-%m-%d", "2026-05"), ("%d.%m.%Y", "05.2026"), ("%m/%d/%Y", "05/2026")]
)
def test_a_month_follows_the_format_of_days(pattern: str, shown: str) -> None:
    frame = pl.DataFrame({"day": [None]}).with_columns(day=pl.date(2026, 5, 3))
    with shown_as(Presentation(date_pattern=pattern)):
        assert frame.select(month(pl.col("day"))).item() == shown
