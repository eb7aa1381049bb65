"""US customary units from the stored figures by published factors, rounded once; decimal mark, dates and language."""

from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path

import polars as pl
import pytest

from pipeline.presenting import dressed
from pipeline.rounding import Rule
from pipeline.settings import Pages, SettingsError
from pipeline.workspace import Workspace
from plugins.renderers.verbs.figures import fixed, plain, spaced
from plugins.renderers.verbs.presentation import Presentation, day, shown_as
from plugins.renderers.verbs.results import names
from plugins.renderers.verbs.tables import TABLES
from plugins.renderers.verbs.words import word
from schemas.units import CUSTOMARY, conversion, customary

#: To convert from -> to, multiply by: NIST Special Publication 811 (2008), appendix B.8; `in`, `ft` and `lb` are exact,
#: the others as printed there, to seven digits. From memory.
SP_811 = {
    ("in", "mm"): 25.4,
    ("ft", "m"): 0.3048,
    ("lb", "g"): 453.59237,
    ("lb/ft³", "kg/m³"): 16.01846,
    ("psi", "kPa"): 6.894757,
    ("lbf", "N"): 4.448222,
    ("lbf/in", "N/mm"): 0.1751268,
    ("ton", "t"): 0.9071847,
}


@pytest.mark.parametrize(("given", "stored"), SP_811)
def test_factors_are_those_of_sp_811(given: str, stored: str) -> None:
    factor, offset = conversion(given, stored)
    assert (factor, offset) == (pytest.approx(SP_811[given, stored], rel=5e-7), 0)


@pytest.mark.parametrize("stored", CUSTOMARY)
def test_there_and_back_is_the_same_figure(stored: str) -> None:
    told = customary(stored)
    assert told is not None
    shown, factor, offset, _ = told
    back, shift = conversion(shown, stored)
    assert (37.5 * factor + offset) * back + shift == pytest.approx(37.5, rel=1e-12)


def test_temperature_has_an_offset() -> None:
    # NIST SP 811, B.8: t/°C = (t/°F - 32)/1.8.
    told = customary("°C")
    assert told is not None
    assert 25 * told[1] + told[2] == pytest.approx(77)


def _values(value: float) -> dict[str, pl.DataFrame]:
    key = {"property": ["rut_depth"], "point": [10000.0], "value": [value]}
    nothing = pl.Series("lower", [None], pl.Float64)
    return {
        "properties": pl.DataFrame({"property": ["rut_depth"], "unit": ["mm"], "decimals": [1]}),
        "sample_values": pl.DataFrame({**key, "text": ["x"], "spread": [2.54], "uncertainty": [0.254]}),
        "judgements": pl.DataFrame({**key, "lower": nothing, "upper": [12.5]}),
    }


def test_a_figure_is_converted_unrounded_and_rounded_once() -> None:
    # 6.2241 mm is 0.24504 in and reads 0.25; rounded to 6.2 mm first it would be 0.24409 in and read 0.24.
    shown = dressed(_values(6.2241), Pages(units="us"), Rule.HALF_EVEN)
    inches = [Decimal(each) / Decimal("25.4") for each in ("6.2241", "6.2")]
    once, twice = (str(each.quantize(Decimal("0.01"), ROUND_HALF_EVEN)) for each in inches)
    assert (shown["sample_values"]["text"].item(), once, twice) == ("0.25", "0.25", "0.24")
    assert shown["properties"].row(0, named=True) == {"property": "rut_depth", "unit": "in", "decimals": 2}
    assert shown["sample_values"].select("spread", "uncertainty").row(0) == pytest.approx((0.1, 0.01))
    assert shown["judgements"]["upper"].item() == 0.4921


def test_si_is_shown_as_it_is_stored() -> None:
    given = _values(6.2241)
    shown = dressed(given, Pages(), Rule.HALF_EVEN)
    assert all(shown[name] is frame for name, frame in given.items())


#: Columns of tables of properties that are in no unit of the property: shares, weights, places, chances, shifts in s.
_OTHER = {"point", "within_pct", "pay_pct", "composite_pct", "weight", "failing_pct", "shift", "chance", "significance",
          "within_mean", "within_least", "pay_mean", "pay_least", "guard", "station", "offset"}  # fmt: skip


def test_no_figure_of_a_property_is_left_in_its_stored_unit() -> None:
    # NIST SP 811, appendix B.8: 1 in is 25.4 mm, exactly. Every figure here is 25.4 mm.
    of_property = {name: kinds for name, kinds in TABLES.items() if {"property", "point"} <= set(kinds)}
    given = {
        name: pl.DataFrame(
            {column: [_first(column, kind)] for column, kind in kinds.items()}, schema_overrides=dict(kinds)
        )
        for name, kinds in of_property.items()
        if name != "density_places"  # relative compaction is a share: only its places have a unit
    }
    shown = dressed({**_values(1.0), **given}, Pages(units="us"), Rule.HALF_EVEN)
    for name, frame in given.items():
        figures = [column for column, kind in frame.schema.items() if kind == pl.Float64 and column not in _OTHER]
        converted = {column: shown[name][column].item() for column in figures}
        assert converted == pytest.approx(dict.fromkeys(figures, 1.0)), name
    assert len(given) > 10


def _first(column: str, kind: pl.DataType) -> object:
    values = {"property": "rut_depth", "point": 10000.0}
    return values.get(column, 25.4 if kind == pl.Float64() else None)


def test_stations_are_told_in_feet() -> None:
    # NIST SP 811, appendix B.8: 1 ft is 0.3048 m, exactly.
    places = pl.DataFrame({"station": [304.8, None], "offset": [-1.524, None], "place_unit": ["m", "m"]})
    shown = dressed({**_values(1.0), "density_places": places}, Pages(units="us"), Rule.HALF_EVEN)["density_places"]
    assert shown.row(0) == (pytest.approx(1000), pytest.approx(-5), "ft") and shown.row(1) == (None, None, "ft")


def test_an_unknown_language_is_told() -> None:
    with pytest.raises(SettingsError, match=r"\[pages\] language: expected one of en, found 'xx'"):
        dressed({}, Pages(language="xx"), Rule.HALF_EVEN)


def test_mark_dates_and_sieves_follow_the_presentation() -> None:
    frame = pl.DataFrame({"v": [2.5], "d": [None]}).with_columns(d=pl.date(2026, 5, 3))
    keys = pl.DataFrame({"property": ["passing"], "point": [0.075]})
    with shown_as(Presentation("us", ",", "%d.%m.%Y", "none")):
        text = frame.select(fixed(pl.col("v"), pl.lit(2)), plain(pl.col("v")).alias("p"), day(pl.col("d"))).row(0)
        assert text == ("2,50", "2,5", "03.05.2026")
        assert spaced(12345.5) == "12\u202f345,5"
        assert names(keys, {})["at_text"].item() == "No. 200"
        assert word("verdict.within") == "within"  # a language without a catalogue falls back to English
    assert names(keys, {})["at_text"].item() == "0.075 mm"


def test_a_report_in_customary_units_shows_the_warehouse_s_figures(demo: Workspace, tmp_path: Path) -> None:
    from pipeline.reports import Asked, hand_out
    from pipeline.settings import Settings
    from warehouse.read import connect

    sample = "HB-0005"
    asked = Settings(pages=Pages(units="us", decimal_mark="comma", date_format="dmy"))
    written, _ = hand_out(demo, asked, Asked(samples=(sample,)), "html", tmp_path, None)
    page = written[0].read_text(encoding="utf-8")
    with connect(demo.root) as connection:
        query = (
            "select value from property_values where sample_id = ? and level = 'sample' and property = 'core_thickness'"
        )
        (stored,) = connection.execute(query, [sample]).fetchall()[0]
    inches = (Decimal(repr(stored)) / Decimal("25.4")).quantize(Decimal("0.01"), ROUND_HALF_EVEN)
    row = page[page.index("<b>Thickness of the core</b>") :]
    row = row[: row.index("</tr>")]
    assert f"<bdi>{str(inches).replace('.', ',')}</bdi>" in row
    assert ">in<" in row
    assert "size:letter" in page
