"""Labels come from strangers: whatever stands in them is shown as text and opens nothing."""

import re

import polars as pl
import pytest

from plugins.renderers.verbs.tables import TABLES
from tests.pages import invented
from tests.pages.conftest import render
from tests.pages.reading import read

HOSTILE = {
    "markup": "<script>alert(1)</script><img src=x onerror=alert(2)></td></table></style></title>",
    "quotes": '" onmouseover="alert(1)" x=\'y\' `z`',
    "right to left": "\u202egnp.exe\u202c שלום",
    "formula": '=HYPERLINK("http://example.invalid","x")',
    "path": "../../../etc/passwd\\..\\CON",
    "long": "W" * 5000,
    "entity": "&lt;b&gt; &amp;amp; &#60;i&#62;",
    "control": "a\x00b\x1b[31mc\r\nd\x85e",
    "pattern": "{slug} {{x}} {% raw %} {0} {figure_html}",
    "svg": "</svg><svg onload=alert(1)>",
    "astral": "🛣️ e\u0301 \ufffe",
}
#: Columns in which only a closed set of words has a meaning, or that hold text computed by the pipeline's own rounding.
_CLOSED = {"verdict", "stage", "side", "basis"}


def _poisoned(text: str) -> dict[str, pl.DataFrame]:
    """Return tables in which every free text column of every table begins with the hostile text.

    Ids stay distinct and keep their ties, because the same text goes before every one of them.
    """
    tables = invented.tables(projects=2, per_project=6, passes=2000)
    made = {}
    for name, frame in tables.items():
        texts = [c for c, kind in TABLES[name].items() if kind == pl.String() and c not in _CLOSED]
        made[name] = frame.with_columns(
            pl.when(pl.col(c).is_not_null()).then(pl.concat_str(pl.lit(text), pl.col(c))).alias(c) for c in texts
        )
    return made


@pytest.fixture(scope="module")
def own() -> tuple[set[str], set[str]]:
    """Give the tags and attributes of pages made of harmless labels."""
    seen = [read(page) for page in render(invented.tables(projects=2, per_project=6, passes=2000)).values()]
    # Several flags of one result stand on lines of their own, a case the harmless data lack.
    return {"br"}.union(*(s.tags for s in seen)), set().union(*(s.attributes for s in seen))


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_labels_are_text(name: str, own: tuple[set[str], set[str]]) -> None:
    tags, attributes = own
    made = render(_poisoned(HOSTILE[name]))
    assert len(made) == 3 + 2 + 2 + 12
    for path, page in made.items():
        seen = read(page)
        assert not seen.faults, (path, seen.faults[:3])
        assert seen.tags <= tags, path
        assert seen.attributes <= attributes, path
        assert re.fullmatch(r"(summary|due|quality|(project|mix|sample)/[A-Za-z0-9_-]{1,60})\.html", path)
        for link in seen.links:
            assert re.fullmatch(
                r"data:,|((\.\./)?(summary|due|quality|(project|mix|sample)/[\w-]+)\.html)?(#[\w-]+)?", link
            ), link


@pytest.mark.parametrize("name", ["markup", "quotes", "formula", "path", "entity", "pattern", "svg"])
def test_hostile_labels_are_shown_as_they_stand(name: str) -> None:
    made = render(_poisoned(HOSTILE[name]))
    wanted = " ".join(HOSTILE[name].split())
    for path, page in made.items():
        shown = " ".join(read(page).text.split())
        # Long labels are cut, and say so: compare what a cut label still shows.
        assert wanted[:60] in shown, path


def test_control_characters_never_reach_the_page() -> None:
    for path, page in render(_poisoned(HOSTILE["control"])).items():
        assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]", page), path


def test_long_labels_are_cut_and_say_so() -> None:
    made = render(_poisoned(HOSTILE["long"]))
    assert "characters)" in made["summary.html"]
    assert len(made["summary.html"]) < 400_000


def test_labels_differing_by_case_or_by_unsafe_letters_keep_their_own_pages(whole) -> None:
    labels = [
        "HB-1",
        "hb-1",
        "Hb-1",
        "HB 1",
        "HB/1",
        "HB\\1",
        "HB:1",
        "CON",
        "..",
        "-",
        "",
        "ÄÖ",
        "ÖÄ",
        "x" * 300,
        "x" * 301,
    ]
    samples = whole["samples"].head(len(labels)).with_columns(pl.Series("sample_id", labels))
    paths = [path for path in render({**whole, "samples": samples}) if path.startswith("sample/")]
    assert len({path.lower() for path in paths}) == len(labels)
