"""Curves of mixes as the pages receive them: means of whole samples, thinned by the stated rule, restricted to mixes.

Means and logarithms are held against polars and the standard library, worked out apart from the queries.
"""

import datetime as dt
import math

import duckdb
import polars as pl
import pytest

from pipeline.formulas import registry
from pipeline.page_tables import _FOLLOWED, CURVES, MIX_SAMPLES, _scoped, _trends, _wheel_means
from pipeline.settings import Results
from plugins.renderers.verbs.tables import CURVE_POINTS, TABLES

_DAY = dt.date(2026, 3, 1)


def _density(sample: str, specimen: str, last: int, base: float) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "sample_id": sample,
            "specimen_no": specimen,
            "gyration": range(last + 1),
            "gmm_pct": [base + 5 * math.log(max(n, 1)) for n in range(last + 1)],
        }
    )


def _wheel(sample: str, wheel: str, last: int, factor: float) -> pl.DataFrame:
    passes = list(range(50, last + 1, 50))
    columns = {f"depth_{n:02}_mm": [factor * math.sqrt(p) for p in passes] for n in range(1, 12)}
    return pl.DataFrame({"sample_id": sample, "specimen_no": "1", "wheel": wheel, "wheel_pass": passes, **columns})


@pytest.fixture
def curves() -> dict[str, pl.DataFrame]:
    return _curves(None)


def _curves(names: list[str] | None) -> dict[str, pl.DataFrame]:
    samples = pl.DataFrame({"sample_id": ["A", "B", "C"], "mix_id": ["M", "M", "N"], "phase": "production",
                            "taken_on": [_DAY, _DAY, _DAY]})  # fmt: skip
    densification = pl.concat(
        [_density("A", "1", 160, 80.0), _density("A", "2", 160, 81.0), _density("B", "1", 75, 80.0),
         _density("B", "2", 115, 84.0), _density("C", "1", 1, 80.0)]
    )  # fmt: skip
    wheel_depth = pl.concat([_wheel("A", "left", 20000, 0.03), _wheel("A", "right", 12000, 0.05)])
    judgements = pl.DataFrame({"sample_id": ["A", "A"], "property": "rut_depth", "verdict": ["pass", "fail"]})
    with duckdb.connect() as connection:
        tables = {"samples": samples, "densification": densification, "wheel_depth": wheel_depth,
                  "judgements": judgements}  # fmt: skip
        for name, frame in tables.items():
            connection.register(name, frame.to_arrow())
        return _scoped(connection, CURVES, names)


def test_a_curve_keeps_its_ends_and_at_most_the_stated_number_of_points(curves) -> None:
    for frame, along in (
        (curves["mix_density"], "gyration"),
        (_wheel_means(curves["mix_rut"], Results()), "wheel_pass"),
    ):
        sized = frame.group_by("sample_id").agg(pl.len(), pl.col(along).min().alias("first"), pl.col(along).max())
        assert sized["len"].max() <= CURVE_POINTS
        one = sized.row(by_predicate=pl.col("sample_id") == "A", named=True)
        assert (one["first"], one[along]) == {"gyration": (1, 160), "wheel_pass": (50, 12000)}[along]
        assert one["len"] > CURVE_POINTS * 0.6


def test_density_is_the_mean_of_all_specimens_and_ends_where_the_first_one_does(curves) -> None:
    whole = curves["mix_density"].filter(pl.col("sample_id") == "A")
    wanted = [80.5 + 5 * math.log(n) for n in whole["gyration"]]
    assert whole["gmm_pct"].to_list() == pytest.approx(wanted)
    assert curves["mix_density"].filter(pl.col("sample_id") == "B")["gyration"].max() == 75
    assert curves["mix_density"].filter(pl.col("sample_id") == "C")["gyration"].to_list() == [1]


def test_thinning_keeps_every_one_of_the_first_gyrations(curves) -> None:
    # On a logarithmic axis these stand farthest apart.
    whole = curves["mix_density"].filter(pl.col("sample_id") == "A")
    assert whole["gyration"].to_list()[:8] == list(range(1, 9))


def test_rut_depth_is_the_mean_of_the_wheels_while_both_run(curves) -> None:
    means = _wheel_means(curves["mix_rut"], Results())
    assert means["depth_mm"].to_list() == pytest.approx([0.04 * math.sqrt(p) for p in means["wheel_pass"]])
    assert set(means["verdict"]) == {"fail"} and set(means["wheels"]) == {2}


def test_only_the_mixes_asked_for_are_read() -> None:
    assert set(_curves(["N"])["mix_density"]["mix_id"]) == {"N"}
    assert _curves(["N"])["mix_rut"].is_empty() and _curves([])["mix_density"].is_empty()


def test_trends_count_all_results_and_hand_the_latest() -> None:
    n = MIX_SAMPLES + 30
    names = [f"S{i:04}" for i in range(n)]
    samples = pl.DataFrame({"sample_id": names, "project_id": "P", "mix_id": "M", "revision": 1,
                            "taken_on": [_DAY + dt.timedelta(days=i) for i in range(n)]})  # fmt: skip
    values = pl.DataFrame({"sample_id": names, "property": "vma", "point": None,
                           "value": [14.0 + i / n for i in range(n)],
                           "flags": ["absorption_high" if i % 10 == 0 else None for i in range(n)]},
                          schema_overrides={"point": pl.Float64})  # fmt: skip
    judged = values.select("sample_id", "property", "point", pl.lit("vma").alias("limit_id"), pl.when(
        pl.col("value") < 14.2).then(pl.lit("fail")).otherwise(pl.lit("pass")).alias("verdict"), pl.lit(14.2).alias(
        "lower"), pl.lit(None, pl.Float64).alias("upper"))  # fmt: skip
    targets = pl.DataFrame({"mix_id": ["M"], "revision": [1], "property": ["vma"], "target": [14.5]})
    found = _trends({"sample_values": values, "judgements": judged}, samples, targets)
    total = found["mix_trend_totals"].row(0, named=True)
    assert total["samples"] == n and total["flagged"] == 43
    assert total["outside"] == sum(14.0 + i / n < 14.2 for i in range(n))
    assert (total["target"], total["lower"], total["upper"]) == (14.5, 14.2, None)
    assert found["mix_trends"]["sample_id"].to_list() == names[30:]
    # Other units are found by property and point.
    assert all({*TABLES[name], "property", "point"} == set(frame.columns) for name, frame in found.items())


def test_the_results_named_in_queries_are_in_the_registry() -> None:
    known = registry.load()
    assert all(known.property(name) for name in (*_FOLLOWED, "rut_depth", "gsb_blend"))
