"""Open laboratory data of a federal accelerated-pavement test site (MIT licence), where they are at hand."""

import os
from pathlib import Path

import polars as pl
import pytest

from pipeline.compute import compute
from pipeline.derive import Inputs, derive
from pipeline.rounding import round_series
from pipeline.validation.records import design, frame, of_gmb, of_gmm, sample
from tests.check_values.load_records import broken, one, trace, triangle, values
from tests.support import ROOT

DATA = (
    Path(os.environ.get("MIXLEDGER_OPEN_DATA", ROOT.parent / "shared" / "open-data")) / "fhwa-recycling-agent-mixtures"
)
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason=f"the open data are not at hand in {DATA.name}")

#: Gb is not published; 1.03 fits four of the six rows (note kept with the data).
GB = 1.03


def test_density_at_every_gyration() -> None:
    """306 published %Gmm from the heights recovered for them; the final value is free within its own rounding."""
    keys = ["mix", "replicate", "gyrations"]
    published = pl.read_csv(DATA / "gyratory-percent-gmm.csv", schema_overrides={"replicate": pl.String})
    heights = pl.read_csv(DATA / "gyratory-recovered-heights.csv", schema_overrides={"replicate": pl.String})
    both = published.join(heights, on=keys, validate="1:1").with_columns(
        sample_id=pl.concat_str("mix", "replicate", separator=" ")
    )
    assert both.height == 306
    finals = {}
    for name, rows in both.group_by("sample_id"):
        ratio = rows.filter(pl.col("gyrations") == 50)["recovered_height_mm"].item() / rows["recovered_height_mm"]
        # The narrowest bounds on the unrounded final density that every printed value allows.
        low = ((rows["percent_gmm"] - 0.005) / ratio).max()
        high = ((rows["percent_gmm"] + 0.005) / ratio).min()
        assert low < high
        finals[str(name[0])] = (low + high) / 2
    series = derived_densities(both, finals).join(
        both.rename({"gyrations": "gyration"}), on=["sample_id", "gyration"], validate="1:1"
    )
    assert series.height == 306
    rounded = round_series(series["gmm_pct"], pl.repeat(2, series.height, eager=True))
    assert (rounded - series["percent_gmm"]).abs().max() == pytest.approx(0, abs=1e-9)


def derived_densities(both: pl.DataFrame, finals: dict[str, float]) -> pl.DataFrame:
    """Derive the densification curves from runs, heights and weighings that give the final densities."""
    names = sorted(finals)
    key = {name: {"sample_id": name, "specimen_no": "1"} for name in names}
    heights = both.select(
        "sample_id",
        pl.lit("1").alias("specimen_no"),
        pl.col("gyrations").alias("gyration"),
        pl.col("recovered_height_mm").alias("height_mm"),
    ).rows(named=True)
    weighings = [row for name in names for row in (*of_gmm(2.5, name, "a"), *of_gmb(0.025 * finals[name], name))]
    made = {
        "sample": [sample(name) for name in names],
        "mix_design": [design(n_design=50)],
        "weighing": weighings,
        "compaction_run": [{**key[name], "stop_rule": "gyrations", "gyrations": 50} for name in names],
        "compaction_height": heights,
    }
    return derive(Inputs.of(**{record: frame(record, rows) for record, rows in made.items()})).densification


#: Rows whose published Gse contradicts their own Gmm and binder content -> what these give (computed).
CONTRADICTORY = {("40RAP-P", "design"): 2.9981, ("40RAP-P", "built"): 2.9073}


def test_effective_gravity_of_the_mix_designs() -> None:
    rows = pl.read_csv(DATA / "job-mix-formula.csv").rows(named=True)
    assert len(rows) == 6
    for row in rows:
        computed = compute("gse", gmm=row["gmm"], pb=row["binder_percent"], gb=GB).value
        told = CONTRADICTORY.get((row["mix"], row["stage"]))
        if told is None:
            # The design rows are published to three decimals.
            assert computed == pytest.approx(row["gse"], abs=0.0005)
        else:
            assert computed == pytest.approx(told, abs=0.00005)
            assert abs(computed - row["gse"]) > 0.004


def test_rut_depths_at_the_standard_passes() -> None:
    """Six published records, as recorded and zeroed; the authors' largest depth is the last zeroed reading."""
    from pipeline.settings import Results

    raw = pl.read_csv(DATA / "hamburg-rut-depth.csv")
    names = [name for name in raw.columns if name != "pass"]
    long = raw.unpivot(index="pass", on=names, variable_name="sample_id", value_name="depth")
    positions = [pl.col("depth").alias(f"depth_{number:02d}_mm") for number in range(1, 12)]
    key = {"specimen_no": "1", "wheel": "left"}
    depths = long.select(
        "sample_id",
        *(pl.lit(value).alias(name) for name, value in key.items()),
        pl.col("pass").alias("wheel_pass"),
        pl.col("pass").alias("source_line"),
        *positions,
    )
    made = {
        "sample": frame("sample", [sample(name) for name in names]),
        "mix_design": frame("mix_design", [design()]),
        "wheel_run": frame(
            "wheel_run", [{"sample_id": name, **key, "passes": 20000, "stop_reason": "passes"} for name in names]
        ),
        "wheel_depth": depths,
    }
    published = pl.read_csv(DATA / "hamburg-results.csv")
    for zeroed in (False, True):
        values = derive(Inputs.of(**made), Results(wheel_zeroed=zeroed)).property_values
        wheel = values.filter(pl.col("level") == "specimen", pl.col("property") == "rut_depth")
        for at in (5000, 10000, 15000):
            found = wheel.filter(pl.col("point") == at).sort("sample_id")
            offset = raw.row(0, named=True) if zeroed else dict.fromkeys(names, 0.0)
            recorded = raw.filter(pl.col("pass") == at).row(0, named=True)
            expected = [recorded[name] - offset[name] for name in found["sample_id"]]
            assert found["value"].to_list() == pytest.approx(expected, abs=1e-9)
    whole = wheel.filter(pl.col("point") == 20000).join(
        published.filter(pl.col("max_pass") == 20000), left_on="sample_id", right_on="specimen"
    )
    assert whole.height == 5
    assert whole["flags"].unique().to_list() == ["taken_from_last_reading"]
    # The authors print the largest reading; in one record the last one lies a recorded step (0.01 mm) below it.
    below = whole["max_rut_depth_mm"] - whole["value"]
    assert below.min() > -1e-9  # type: ignore[operator]
    assert below.max() < 0.01 + 1e-9  # type: ignore[operator]


#: Rows of the cracking indices that do not follow from their own inputs, as the note kept with the data lists them.
COPIED = {
    ("STA", "40RAP-B", 1),
    *(("STA", "40RAP-P", replicate) for replicate in (1, 2, 3)),
    *(("LTA", "20RAP", replicate) for replicate in (1, 2, 3)),
}


def test_cracking_indices_that_contradict_their_inputs_are_exactly_those_known() -> None:
    rows = pl.read_csv(DATA / "ideal-ct.csv").rows(named=True)
    assert len(rows) == 20
    found = set()
    for row in rows:
        computed = compute(
            "ct_index",
            specimen_thickness=62,
            specimen_diameter=150,
            displacement_75=row["l75_over_m75_mm2_per_kN"],
            post_peak_slope=1,
            fracture_energy=row["fracture_energy_J_per_m2"],
        ).value
        if abs(computed / row["ct_index"] - 1) > 1e-4:
            found.add((row["ageing"], row["mix"], row["replicate"]))
    assert found == COPIED


def test_statistics_of_groups_divide_by_n_where_ours_divide_by_one_less() -> None:
    """The published spread is that of a population; the derived one, of the same indices, is that of a sample."""
    rows = pl.read_csv(DATA / "ideal-ct.csv").with_columns(sample_id=pl.concat_str("ageing", "mix", separator=" "))
    headers, points = [], []
    for row in rows.iter_rows(named=True):
        sizes = {"specimen_thickness_mm": 62.0, "specimen_diameter_mm": 150.0}
        headers.append(broken("d8225", str(row["replicate"]), row["sample_id"], **sizes))
        points += trace(headers[-1], *triangle(row["ct_index"]))
    names = rows["sample_id"].unique().to_list()
    found = values(sample=[sample(name) for name in names], load_test=headers, load_point=points)
    published = pl.read_csv(DATA / "ideal-ct-group-statistics.csv")
    assert published.height == 4
    for row in published.iter_rows(named=True):
        mean = one(found, "ct_index", "sample", sample_id=f"{row['ageing']} {row['mix']}")
        assert mean["n"] == 5
        assert mean["value"] == pytest.approx(row["ct_index_mean"], rel=1e-6)
        assert float(mean["spread"]) * (4 / 5) ** 0.5 == pytest.approx(row["ct_index_std_population"], rel=1e-6)  # type: ignore[arg-type]
        assert mean["spread"] != pytest.approx(row["ct_index_std_population"], rel=0.1)
