"""Charts: places of values in the drawing, worked out by hand on round numbers."""

import re

import polars as pl

from plugins.renderers.charts.curve import curves, legends, thinned
from plugins.renderers.charts.frame import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Axis, frame_svg
from plugins.renderers.charts.strip import WIDTH as STRIP
from plugins.renderers.charts.strip import scales, strips
from plugins.renderers.charts.trend import trends


def _values(*values: float, lower: float | None = 3.0, upper: float | None = 5.0) -> pl.DataFrame:
    verdicts = [
        "fail" if (upper is not None and v > upper) or (lower is not None and v < lower) else "pass" for v in values
    ]
    return pl.DataFrame({"p": ["a"] * len(values), "value": values, "verdict": verdicts}).with_columns(
        pl.lit(lower, pl.Float64).alias("lower"), pl.lit(upper, pl.Float64).alias("upper")
    )


def _strip(frame: pl.DataFrame, low: float, high: float) -> str:
    scale = pl.DataFrame({"p": ["a"], "low": [low], "high": [high]})
    return str(strips(frame, scale, ["p"], ["p"])["strip_html"].item())


def test_a_strip_puts_values_and_band_where_they_belong() -> None:
    drawn = _strip(_values(0.0, 4.0, 10.0), 0.0, 10.0)
    reach = STRIP - 8
    assert f'x="{4 + 0.3 * reach:.1f}"' in drawn and f'width="{0.2 * reach:.1f}"' in drawn
    assert f"M{4 + 0.4 * reach:.1f} 6v8" in drawn, "a passing value is a short tick"
    assert f"M4.0 2v16M{4 + reach:.1f} 2v16" in drawn, "failing values are tall ticks"


def test_a_value_beyond_the_scale_is_an_arrow_at_the_edge() -> None:
    drawn = _strip(_values(4.0, 99.0, -99.0), 0.0, 10.0)
    assert f"M{STRIP - 4:.1f} 6l3 4l-3 4" in drawn and "M4.0 6l-3 4l3 4" in drawn


def test_no_limit_means_no_band() -> None:
    assert 'class="band"' not in _strip(_values(4.0, lower=None, upper=None), 0.0, 10.0)
    assert 'class="band"' in _strip(_values(4.0, lower=3.0, upper=None), 0.0, 10.0)


def test_scales_hold_values_and_limits_and_survive_one_equal_value() -> None:
    scale = scales(_values(4.0, 6.0), ["p"])
    assert scale["low"].item() < 3.0 and scale["high"].item() > 6.0
    single = scales(_values(4.0, lower=None, upper=None), ["p"])
    assert single["low"].item() < 4.0 < single["high"].item()


def test_one_blunder_does_not_squeeze_the_others() -> None:
    scale = scales(_values(*[4.0 + i / 1000 for i in range(400)], 9000.0), ["p"])
    assert scale["high"].item() < 10.0


def test_a_trend_tells_sides_apart_by_shape() -> None:
    frame = _values(4.0, 6.0, 2.0).with_columns(pl.Series("side", ["within", "above", "below"]))
    drawn = str(trends(frame, scales(frame, ["p"]), ["p"])["trend_html"].item())
    up, down = "m-4 3h8l-4-7z", "m-4-3h8l-4 7z"
    assert drawn.count(up) == 1 and drawn.count(down) == 1
    assert drawn.index(up) < drawn.index(down)


def _points(count: int) -> pl.DataFrame:
    return pl.DataFrame(
        {"owner": ["S"] * count, "series": ["left"] * count, "x": [float(i) for i in range(count)]}
    ).with_columns((pl.col("x") / 100).alias("y"), pl.lit(1.0).alias("size"))


_AXES = (Axis(0, 1000, (0, 500, 1000), "passes"), Axis(20, 0, (0, 10, 20), "mm"))


def test_a_curve_runs_through_the_corners_of_its_frame() -> None:
    points = pl.DataFrame(
        {"owner": ["S"] * 2, "series": ["left"] * 2, "x": [0.0, 1000.0], "y": [0.0, 20.0], "size": [1.0] * 2}
    )
    marks = pl.DataFrame({"owner": ["S", "T"], "x": [500.0, 500.0], "y": [10.0, 10.0]})
    drawn = curves(points, marks, lambda size: _AXES, "size")["S"]
    corners = f"M{LEFT}.0 {TOP}.0L{WIDTH - RIGHT}.0 {HEIGHT - BOTTOM}.0"
    assert f'd="{corners}"' in drawn, "depth grows downwards"
    middle = f"M{LEFT + (WIDTH - LEFT - RIGHT) / 2:.1f} {TOP + (HEIGHT - TOP - BOTTOM) / 2:.1f}"
    assert drawn.count('class="limit"') == 1 and middle in drawn


def test_a_logarithmic_axis_spaces_decades_evenly() -> None:
    axis = Axis(1, 100, (), "gyrations", log=True)
    assert [round(axis.share(value), 12) for value in (1, 10, 100)] == [0.0, 0.5, 1.0]
    points = pl.DataFrame({"owner": ["S"], "series": ["1"], "x": [10.0], "y": [10.0], "size": [1.0]})
    marks = pl.DataFrame(schema={"owner": pl.String, "x": pl.Float64, "y": pl.Float64})
    drawn = curves(points, marks, lambda size: (axis, _AXES[1]), "size")["S"]
    assert f"M{LEFT + (WIDTH - LEFT - RIGHT) / 2:.1f} " in drawn


def test_thinning_keeps_the_ends_and_the_shape() -> None:
    thin = thinned(_points(10_000).drop("size"))
    assert thin.height <= 125
    assert thin["x"][0] == 0.0 and thin["x"][-1] == 9999.0
    assert thinned(_points(50).drop("size")).height == 50


def test_a_legend_says_where_a_line_ends() -> None:
    made = legends(_points(11), pl.format("{}: {} at {}", "series", "y", "x"))["S"]
    assert re.search(r"left: 0\.1 at 10\.0", made)


def test_ticks_of_a_frame_are_labelled() -> None:
    drawn = frame_svg(*_AXES)
    assert ">1\u202f000<" in drawn and ">passes<" in drawn and ">mm<" in drawn
