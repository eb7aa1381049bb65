"""Verbs of the renderers: figures, markup, slugs, limits and verdicts, each on small frames."""

from pathlib import Path

import polars as pl
import pytest

from plugins.renderers.verbs.figures import counted, doubt, fixed, limit_figure, plain, spaced
from plugins.renderers.verbs.markup import clipped, fill, gathered, given
from plugins.renderers.verbs.results import names, worst_verdicts
from plugins.renderers.verbs.slugs import slug
from plugins.renderers.verbs.tables import TABLES, take
from plugins.renderers.verbs.verdicts import limit_text, mark_html, side

_PUBLISHED = pl.read_csv(Path(__file__).parent / "data" / "rounding_e29.csv", schema_overrides={"text": pl.String})


def one(expression: pl.Expr, **columns: object) -> object:
    """Evaluate an expression on one row."""
    return pl.DataFrame({name: [value] for name, value in columns.items()}).select(expression).item()


@pytest.mark.parametrize("row", _PUBLISHED.to_dicts(), ids=lambda row: f"{row['value']}: {row['source']}")
def test_rounding_follows_published_examples_of_astm_e29(row: dict) -> None:
    assert one(fixed(pl.col("v"), pl.col("d")), v=row["value"], d=row["decimals"]) == row["text"]


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (2.675, 2, "2.68"),
        (2.665, 2, "2.66"),
        (-0.04, 1, "0.0"),
        (-1.25, 1, "−1.2"),
        (0.5, 0, "0"),
        (1234567.0, 0, "1234567"),
        (None, 2, None),
        (5.0, None, "5.000"),
    ],
)
def test_fixed_decimals(value: float | None, decimals: int | None, text: str | None) -> None:
    frame = pl.DataFrame({"v": [value], "d": [decimals]}, schema={"v": pl.Float64, "d": pl.Int64})
    assert frame.select(fixed(pl.col("v"), pl.col("d"))).item() == text


def test_an_uncertainty_has_two_significant_digits() -> None:
    given = pl.DataFrame({"u": [0.0024139, 12.345, 0.00001, None]})
    assert given.select(doubt(pl.col("u"))).to_series().to_list() == ["± 0.0024", "± 12", "± 0.00001", None]


def test_not_a_number_is_no_figure() -> None:
    frame = pl.DataFrame({"v": [float("nan"), float("inf")]})
    assert frame.select(fixed(pl.col("v"), pl.lit(1))).to_series().to_list() == [None, None]


def test_limits_keep_their_own_digits_where_rounding_would_change_them() -> None:
    frame = pl.DataFrame({"v": [5.0, 5.05, 92.0, 0.075]})
    shown = frame.select(limit_figure(pl.col("v"), pl.lit(1)))
    assert shown.to_series().to_list() == ["5.0", "5.05", "92.0", "0.075"]


def test_numbers_in_words() -> None:
    assert [spaced(20000), spaced(0.075), spaced(4.75)] == ["20\u202f000", "0.075", "4.75"]
    assert [counted(1, "sample"), counted(0, "sample")] == ["1 sample", "0 samples"]
    assert pl.DataFrame({"v": [12.5, 400.0]}).select(plain(pl.col("v"))).to_series().to_list() == ["12.5", "400"]


def test_fill_escapes_all_but_markup() -> None:
    pattern = '<a title="{text}">{text}{made_html}</a>'
    assert one(fill(pattern), text="<&\"'>", made_html="<b>x</b>") == (
        '<a title="&lt;&amp;&quot;&#39;&gt;">&lt;&amp;&quot;&#39;&gt;<b>x</b></a>'
    )


def test_fill_takes_nothing_from_what_it_filled_in() -> None:
    assert one(fill("{a}{b}"), a="{b}", b="x") == "{b}x"
    assert one(fill("{a}|{n}"), a=None, n=3) == "|3"


def test_given_and_clipped() -> None:
    frame = pl.DataFrame({"t": ["ab", "", None]})
    assert frame.select(given("t", fill("({t})"))).to_series().to_list() == ["(ab)", "", ""]
    assert one(clipped(pl.col("t"), 3), t="abcdef") == "abc… (6 characters)"
    assert one(clipped(pl.col("t"), 6), t="abcdef") == "abcdef"


def test_gathered_keeps_the_order_of_rows() -> None:
    frame = pl.DataFrame({"o": ["b", "a", "b"], "m": ["1", "2", "3"]})
    assert gathered(frame, ["o"], "m").rows() == [("b", "13"), ("a", "2")]


def test_plain_labels_are_their_own_slug_and_no_other_can_take_it() -> None:
    assert slug("HB-0012") == "HB-0012"
    for label in ("hb-0012", "HB_0012", "HB-0012 ", "HB/0012", "CON", "LPT1", "", "A" * 41, "é"):
        made = slug(label)
        assert "_" in made and made.lower() != "hb-0012"
        assert len(made) <= 49 and made == slug(label)


def _judged(**columns: object) -> pl.DataFrame:
    base = {"verdict": "pass", "value": 4.0, "lower": 3.0, "upper": 5.0, "decimals": 1} | columns
    kinds = {"value": pl.Float64, "lower": pl.Float64, "upper": pl.Float64, "verdict": pl.String, "decimals": pl.Int64}
    return pl.DataFrame({name: [value] for name, value in base.items()}, schema=kinds)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({}, "✓ within"),
        ({"verdict": "fail", "value": 5.6}, "▲ 0.6 above"),
        ({"verdict": "fail", "value": 2.4}, "▼ 0.6 below"),
        ({"verdict": "fail", "value": 92.0, "lower": 92.04, "upper": None}, "▼ below"),
        ({"verdict": "fail", "value": None}, "✕ outside"),
        ({"verdict": "not_judged", "value": None}, "○ not judged"),
    ],
)
def test_a_verdict_is_a_shape_and_words(columns: dict, words: str) -> None:
    import re

    marked = _judged(**columns).with_columns(side().alias("side")).select(mark_html()).item()
    assert " ".join(re.sub("<[^>]*>", "", marked).split()) == words


def test_no_verdict_has_no_mark() -> None:
    assert _judged(verdict=None).with_columns(side().alias("side")).select(mark_html()).item() is None


@pytest.mark.parametrize(
    ("lower", "upper", "text"),
    [(3.0, 5.0, "3.0 to 5.0"), (92.0, None, "at least 92.0"), (None, 12.5, "at most 12.5"), (None, None, None)],
)
def test_limits_in_words(lower: float | None, upper: float | None, text: str | None) -> None:
    assert _judged(lower=lower, upper=upper).select(limit_text()).item() == text


def test_of_several_limits_the_worst_verdict_counts() -> None:
    frame = pl.DataFrame(
        {
            "sample_id": ["S"] * 3,
            "property": ["pb"] * 3,
            "point": [None] * 3,
            "limit_id": ["a", "b", "c"],
            "verdict": ["pass", "fail", "not_judged"],
        },
        schema_overrides={"point": pl.Float64},
    ).with_columns(*(pl.lit(None).alias(name) for name in ("side", "lower", "upper", "limit", "reason", "value")))
    assert worst_verdicts(frame)["limit_id"].to_list() == ["b"]


def test_names_of_results_say_where_they_are_taken() -> None:
    frame = pl.DataFrame({"property": ["passing", "rut_depth", "pb", "odd"], "point": [0.075, 20000.0, None, None]})
    known = pl.DataFrame(
        {"property": ["passing", "rut_depth", "pb"], "name": ["passing", "rut depth", "binder content"]}
    )
    titles = dict(zip(*names(frame, {"properties": known}).select("property", "title").get_columns(), strict=True))
    assert titles == {
        "passing": "Passing, 0.075 mm",
        "rut_depth": "Rut depth at 20\u202f000 passes",
        "pb": "Binder content",
        "odd": "Odd",
    }


def test_a_missing_table_is_empty_and_a_missing_column_null() -> None:
    assert take({}, "rut").schema == pl.Schema(TABLES["rut"])
    part = take({"rut": pl.DataFrame({"sample_id": ["S"], "wheel_pass": ["50"], "more": [1]})}, "rut")
    assert part.schema == pl.Schema(TABLES["rut"]) and part["wheel_pass"].to_list() == [50]


@pytest.mark.parametrize(
    ("field", "words", "unit"),
    [
        ("mass_dry", "mass dry", "g"),
        ("mass_retained 4.75 mm", "mass retained 4.75 mm", "g"),
        ("water_temperature_c", "water temperature", "°C"),
        ("speed_per_min", "speed", "1/min"),
        ("wheel_load_n", "wheel load", "N"),
        ("stop_reason", "stop reason", None),
    ],
)
def test_a_reading_is_named_in_words_with_its_stored_unit(field: str, words: str, unit: str | None) -> None:
    from plugins.renderers.sections.trace import _fields

    assert _fields(pl.Series("field", [field])).select("what", "field_unit").row(0) == (words, unit)
