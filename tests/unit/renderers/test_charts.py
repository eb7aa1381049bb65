"""Charts: places of values in the drawing, worked out by hand on round numbers."""

import re

import polars as pl

from plugins.renderers.charts.curve import curves, legends, thinned
from plugins.renderers.charts.frame import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Axis, frame_svg
from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import CELL, WIDE, sparks, trends


def _values(*values: float, lower: float | None = 3.0, upper: float | None = 5.0) -> pl.DataFrame:
    verdicts = [
        "fail" if (upper is not None and v > upper) or (lower is not None and v < lower) else "pass" for v in values
    ]
    return pl.DataFrame({"p": ["a"] * len(values), "value": values, "verdict": verdicts}).with_columns(
        pl.lit(lower, pl.Float64).alias("lower"), pl.lit(upper, pl.Float64).alias("upper")
    )


def test_no_limit_means_no_band() -> None:
    def drawn(frame: pl.DataFrame) -> str:
        sided = frame.with_columns(pl.lit("within").alias("side"))
        return str(sparks(sided, scales(frame, ["p"]), ["p"])["spark_html"].item())

    assert 'class="band" d=""' in drawn(_values(4.0, lower=None, upper=None))
    assert 'class="band" d="M' in drawn(_values(4.0, lower=3.0, upper=None))


def test_a_spark_puts_values_and_band_where_they_belong() -> None:
    frame = _values(0.0, 4.0, 10.0).with_columns(pl.Series("side", ["below", "within", "above"]))
    scale = pl.DataFrame({"p": ["a"], "low": [0.0], "high": [10.0]})
    drawn = str(sparks(frame, scale, ["p"])["spark_html"].item())
    step, high, foot = (CELL.width - 2 * CELL.left) / 3, CELL.height - 2 * CELL.top, CELL.height - CELL.top
    across = [f"{CELL.left + (place + 0.5) * step:.1f}" for place in range(3)]
    assert (
        f'class="run" d="M{across[0]} {foot:.1f}L{across[1]} {foot - 0.4 * high:.1f}L{across[2]} {CELL.top:.1f}"'
        in drawn
    )
    assert f'class="dot" d="M{across[2]} {CELL.top:.1f}h0"' in drawn, "the last value is marked"
    band = f"M{CELL.left:.1f} {foot - 0.5 * high:.1f}h{3 * step:.1f}v{0.2 * high:.1f}"
    assert f'class="band" d="{band}' in drawn, "one box where the limits stay the same"
    assert f'class="tri" d="M{across[0]} {foot:.1f}m-3-2h6l-3 5zM{across[2]} {CELL.top:.1f}m-3 2h6l-3-5z"' in drawn


def test_a_band_changes_where_the_limits_do() -> None:
    frame = pl.concat([_values(4.0, 4.0), _values(4.0, lower=3.5)]).with_columns(pl.lit("within").alias("side"))
    drawn = str(trends(frame, scales(frame, ["p"]), ["p"])["trend_html"].item())
    band = drawn.split('class="band" d="')[1].split('"', maxsplit=1)[0]
    step = (WIDE.width - 2 * WIDE.left) / 3
    assert band.count("z") == 2 and f"h{2 * step:.1f}v" in band and f"h{step:.1f}v" in band


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


def test_a_trend_says_what_it_shows() -> None:
    frame = _values(4.0, 6.0, 2.0, 4.0).with_columns(pl.Series("side", ["within", "above", "below", "not_judged"]))
    frame = pl.concat([frame, _values(4.0).with_columns(pl.lit("q").alias("p"), pl.lit("within").alias("side"))])
    drawn = trends(frame, scales(frame, ["p"]), ["p"])["trend_html"].to_list()
    assert [str(each).split('role="img" aria-label="')[1].split('"')[0] for each in drawn] == [
        "4 in time order, from 4 to 4, least 2, largest 6, 2 outside, 1 not judged",
        "one value, 4",
    ]
    decimals = trends(frame.with_columns(decimals=pl.lit(1)), scales(frame, ["p"]), ["p"])["trend_html"].to_list()
    assert "from 4.0 to 4.0, least 2.0, largest 6.0, 2 outside" in decimals[0]


def test_a_spark_says_what_it_shows() -> None:
    frame = _values(2.46604, 6.0, 2.0).with_columns(pl.Series("side", ["within", "above", "within"]))
    drawn = str(sparks(frame, scales(frame, ["p"]), ["p"])["spark_html"].item())
    assert 'role="img" aria-label="3 in time order, from 2.466 to 2, least 2, largest 6, 1 outside"' in drawn


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


def test_a_curve_plot_says_what_it_shows() -> None:
    points = pl.DataFrame({
        "owner": ["S"] * 4, "series": ["left", "left", "right", "right"], "x": [500.0, 10.0, 10.0, 300.0],
        "y": [12.34567, 1.0, 2.0, 3.0], "size": [1.0] * 4,
    })  # fmt: skip
    marks = pl.DataFrame({"owner": ["S"], "x": [500.0], "y": [10.0]})
    held = pl.DataFrame({"owner": ["S", "T"], "said": ["at most 10: <above>", "of another"]})
    named = (Axis(0, 1000, (), "passes", names=((500.0, "half"),)), _AXES[1])
    drawn = curves(points, marks, lambda size: named, "size", held=held)["S"]
    assert drawn.startswith('<svg class="plot"') and 'role="img"><title>mm against passes</title><desc>' in drawn
    said = drawn.split("<desc>")[1].split("</desc>")[0]
    assert said == "left: from 1 at 10 to 12.35 at half; right: from 2 at 10 to 3 at 300; at most 10: &lt;above&gt;"


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


def test_a_name_that_would_cover_the_one_before_it_is_left_out_but_not_its_line() -> None:
    axis = Axis(0, 100, (0, 1, 50), "x", names=((0.0, "No. 200"), (1.0, "No. 50")))
    drawn = frame_svg(axis, _AXES[1])
    assert ">No. 200<" in drawn and ">No. 50<" not in drawn and ">50<" in drawn
    assert drawn.count(f"V{HEIGHT - BOTTOM}") == 3


def test_ticks_of_a_frame_are_labelled() -> None:
    drawn = frame_svg(*_AXES)
    assert ">1\u202f000<" in drawn and ">passes<" in drawn and ">mm<" in drawn
