"""Records -> figures: what counts, what is withheld and why, what is flagged."""

from datetime import date

import polars as pl
import pytest

from pipeline.derive import Derived, Inputs, derive
from pipeline.settings import Results, SettingsError
from pipeline.validation.records import design, frame, of_gmb, of_gmm, retained, sample, weighed
from schemas.describe import describe

Rows = list[dict[str, object]]
DESIGN = {"gb": 1.03, "gsb": 2.703, "pb_pct": 5.3, "n_initial": 8, "n_design": 100, "n_maximum": 160}


def figures(**records: Rows) -> Derived:
    """Derive from rows of records; one sample and one mix design unless others are given."""
    made = {"sample": [sample()], "mix_design": [design(**DESIGN)]} | records
    return derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}))


def one(result: Derived, prop: str, level: str = "sample", **where: object) -> dict[str, object]:
    """Return the only row of a property at a level."""
    wanted = {"property": prop, "level": level} | where
    found = result.property_values.filter(*(pl.col(name) == value for name, value in wanted.items()))
    (row,) = found.iter_rows(named=True)
    return row


def press(specimen_no: str, gyrations: int, stop_rule: str = "gyrations", **given: object) -> dict[str, object]:
    """Return a compaction run of sample S1."""
    return {"sample_id": "S1", "specimen_no": specimen_no, "gyrations": gyrations, "stop_rule": stop_rule} | given


def heights(specimen_no: str, series: dict[int, float]) -> Rows:
    """Return heights of a specimen of sample S1."""
    key = {"sample_id": "S1", "specimen_no": specimen_no}
    return [{**key, "gyration": gyration, "height_mm": height} for gyration, height in series.items()]


def track(wheel: str, depths: dict[int, float], **given: object) -> tuple[dict[str, object], Rows]:
    """Return a wheel run of sample S1 and its depths, the same at all positions."""
    key = {"sample_id": "S1", "specimen_no": "1", "wheel": wheel}
    positions = [f"depth_{number:02d}_mm" for number in range(1, 12)]
    header = {**key, "passes": max(depths), "stop_reason": "passes"} | given
    return header, [{**key, "wheel_pass": at, **dict.fromkeys(positions, depth)} for at, depth in depths.items()]


def test_nothing_in_nothing_out() -> None:
    result = derive(Inputs.of())
    assert result.property_values.height == result.densification.height == result.contradictions.height == 0


@pytest.mark.parametrize(
    ("attribute", "record"),
    [
        ("property_values", "property_value"),
        ("densification", "densification"),
        ("contradictions", "refusal"),
        ("step_density", "step_density"),
    ],
)
def test_results_have_the_columns_of_their_record(attribute: str, record: str) -> None:
    result = getattr(figures(weighing=of_gmb(2.4)), attribute)
    wanted = {name: kind for name, kind in describe(record).schema().items() if not name.startswith("valid_")}
    assert dict(result.schema) == wanted


def test_missing_mix_design_value_is_the_reason() -> None:
    result = figures(weighing=of_gmb(2.4) + of_gmm(2.5), mix_design=[design(**(DESIGN | {"gsb": None}), revision=2)])
    for prop in ("vma", "vfa", "pba", "pbe"):
        row = one(result, prop)
        assert row["value"] is None
        assert row["withheld"] == "Gsb missing in mix design HB-1 revision 2"
    assert one(result, "air_voids")["value"] == pytest.approx(4.0)


def test_unknown_mix_is_the_reason() -> None:
    result = figures(weighing=of_gmb(2.4) + of_gmm(2.5), mix_design=[])
    assert one(result, "vma")["withheld"] == "mix design HB-1 is not in the register"
    assert one(result, "gmb")["value"] == pytest.approx(2.4)
    assert result.samples["revision"].to_list() == [None]


def test_missing_mass_is_the_reason() -> None:
    row = one(figures(weighing=weighed("t166", dry=1200.0, submerged=700.0)), "gmb", "specimen")
    assert row["value"] is None
    assert row["withheld"] == "mass of the saturated surface-dry specimen in air missing (role 'ssd')"


def test_missing_maximum_gravity_is_the_reason() -> None:
    row = one(figures(weighing=of_gmb(2.4)), "air_voids")
    assert row["withheld"] == "Gmm missing: no T 209 result of this sample"


def test_no_figure_is_ever_nan() -> None:
    result = figures(weighing=weighed("t209", dry=0.0, container_water=7000.0, container_sample_water=7000.0))
    values = result.property_values["value"]
    assert values.is_nan().sum() == 0
    assert one(result, "gmm", "specimen")["withheld"] is not None


def test_a_registered_sample_without_tests_has_no_figures() -> None:
    assert figures().property_values.is_empty()


def test_samples_the_register_does_not_know_give_nothing() -> None:
    result = figures(weighing=of_gmb(2.4, "S9") + weighed("t166", "S9", "2", dry=3.0, ssd=2.0, submerged=1.0))
    assert result.property_values.is_empty()
    assert result.contradictions.is_empty()


def test_contradicting_masses_are_withheld_and_traced_to_their_rows() -> None:
    bad = weighed("t166", "S1", "2", dry=1200.0, ssd=1199.0, submerged=700.0)
    result = figures(weighing=[*of_gmb(2.4), *bad, *of_gmm(2.5)])
    row = one(result, "gmb", "specimen", specimen_no="2")
    assert row["value"] is None
    assert row["withheld"] == "the masses contradict each other (surface-dry >= dry > submerged)"
    assert row["flags"] == "masses_out_of_order"
    rows = result.contradictions
    assert rows["source_line"].to_list() == [4, 5, 6]
    assert rows["found"].to_list() == ["1200.0 g (dry)", "1199.0 g (ssd)", "700.0 g (submerged)"]
    assert set(rows["stage"]) == {"derive"}
    assert set(rows["code"]) == {"contradiction"}
    assert "specimen 2" in rows["reason"][0]
    # The good specimen alone makes the mean.
    assert (one(result, "gmb")["n"], one(result, "gmb")["value"]) == (1, pytest.approx(2.4))


@pytest.mark.parametrize(
    ("method", "masses"),
    [
        ("t209", {"dry": 1200.0, "container_water": 7000.0, "container_sample_water": 6900.0}),
        ("t209", {"dry": 1200.0, "container_submerged": 500.0, "container_sample_submerged": 1800.0}),
        ("t308", {"before_burn": 1400.0, "after_burn": 1500.0}),
        ("t30", {"before_wash": 1300.0, "after_wash": 1400.0}),
    ],
)
def test_contradictions_of_the_other_methods(method: str, masses: dict[str, float]) -> None:
    rows = weighed(method, **masses) + (retained({4.75: 100.0}) if method == "t30" else [])
    result = figures(weighing=rows, mix_design=[design(**DESIGN, ignition_correction_pct=0.1)])
    assert set(result.contradictions["found"].str.extract(r"\((\w+)\)")) == set(masses)
    specimens = result.property_values.filter(pl.col("level") == "specimen")
    assert specimens.height > 0
    assert specimens["value"].is_null().all()


def test_more_retained_than_sieved() -> None:
    rows = weighed("t30", before_wash=1000.0, after_wash=950.0) + retained({4.75: 700.0, 0.075: 700.0})
    result = figures(weighing=rows)
    assert one(result, "passing", point=4.75)["value"] == pytest.approx(30.0)
    assert one(result, "passing", point=0.075)["withheld"] == (
        "more is retained than was sieved (sum of the masses retained <= mass before washing)"
    )
    assert set(result.contradictions["found"]) == {"1000.0 g (before_wash)", "700.0 g (retained)"}


def test_specimens_that_reach_n_design_count_and_others_do_not() -> None:
    runs = [press("1", 100), press("2", 160), press("3", 35, "height"), press("4", 60)]
    series = heights("1", {8: 127.0, 100: 115.0}) + heights("2", {8: 127.0, 100: 115.2, 160: 113.3})
    weighings = [row for number in "12345" for row in of_gmb(2.44, "S1", number)]
    result = figures(weighing=weighings + of_gmm(2.5), compaction_run=runs, compaction_height=series)
    at_design = {
        row["specimen_no"]: row for row in result.property_values.rows(named=True) if row["property"] == "gmb_n_design"
    }
    assert (at_design["1"]["value"], at_design["1"]["route"]) == (pytest.approx(2.44), "compacted_to_n_design")
    assert (at_design["2"]["value"], at_design["2"]["route"]) == (pytest.approx(2.44 * 113.3 / 115.2), "from_heights")
    assert str(at_design["3"]["withheld"]).startswith(
        "compacted to a height, not to N design: the specimen does not count"
    )
    assert str(at_design["4"]["withheld"]).startswith("compaction ended before N design: the specimen does not count")
    assert (at_design["5"]["value"], at_design["5"]["flags"]) == (pytest.approx(2.44), "no_compaction_record")
    voids = one(result, "air_voids")
    assert voids["n"] == 3
    mean = (2.44 + 2.44 * 113.3 / 115.2 + 2.44) / 3
    assert voids["value"] == pytest.approx(100 * (1 - mean / 2.5))
    assert one(result, "gmb")["n"] == 3


def test_only_specimens_that_do_not_count_give_the_reason() -> None:
    result = figures(weighing=of_gmb(2.3) + of_gmm(2.5), compaction_run=[press("1", 35, "height")])
    assert str(one(result, "gmb")["withheld"]).startswith("compacted to a height")
    assert one(result, "air_voids")["n"] == 0


def test_heights_that_end_early_are_the_reason() -> None:
    result = figures(
        weighing=of_gmb(2.44),
        compaction_run=[press("1", 160)],
        compaction_height=heights("1", {8: 127.0, 100: 115.2, 150: 113.5}),
    )
    assert one(result, "gmb_n_design", "specimen")["withheld"] == (
        "height after the last gyration missing: the run has 160 gyrations, the heights end at 150"
    )


def test_density_at_the_levels_and_at_each_gyration() -> None:
    # Heights and densities of the synthetic identity ID-T312-2.
    result = figures(
        weighing=of_gmb(2.44) + of_gmm(2.5),
        compaction_run=[press("1", 160, pressure_kpa=600.0, angle_deg=1.16, speed_per_min=30.0)],
        compaction_height=heights("1", {8: 127.0, 100: 115.2, 160: 113.3}),
    )
    for level, expected in (("initial", 87.07), ("design", 95.99), ("maximum", 97.60)):
        row = one(result, f"relative_density_n_{level}")
        assert row["value"] == pytest.approx(expected, abs=0.005)
        assert row["flags"] is None
    assert result.densification["gyration"].to_list() == [8, 100, 160]
    assert result.densification["gmb_corrected"].to_list() == pytest.approx([2.1768, 2.3998, 2.44], abs=5e-5)
    assert result.densification["gmm_pct"].to_list() == pytest.approx([87.07, 95.99, 97.60], abs=0.005)


def test_curves_are_sorted_whatever_the_order_of_rows() -> None:
    runs = [press("2", 100), press("10", 100), press("1", 100)]
    series = [row for number in ("10", "2", "1") for row in heights(number, {100: 115.0, 8: 127.0})]
    weighings = [row for number in ("2", "1", "10") for row in of_gmb(2.44, "S1", number)]
    curve = figures(weighing=weighings, compaction_run=runs, compaction_height=series).densification
    assert curve.equals(curve.sort("sample_id", "specimen_no", "gyration"))
    assert curve.height == 6
    assert curve["gmm_pct"].is_null().all()


def test_press_out_of_its_limits_is_flagged() -> None:
    result = figures(
        weighing=of_gmb(2.44) + of_gmm(2.5),
        compaction_run=[press("1", 100, pressure_kpa=620.0, angle_deg=1.19, speed_per_min=31.0)],
        compaction_height=heights("1", {8: 127.0, 9: 127.1, 100: 115.2}),
    )
    told = "gyration_angle_off gyration_rate_off height_rises ram_pressure_off"
    assert one(result, "relative_density_n_design", "specimen")["flags"] == told
    # What rests on a doubtful figure is as doubtful.
    assert one(result, "air_voids")["flags"] == told


def test_binder_content_by_ignition_then_batched_then_design() -> None:
    burnt = weighed("t308", before_burn=1500.0, after_burn=1417.0)
    mix = [design(**DESIGN, ignition_correction_pct=0.2)]
    both = figures(weighing=burnt + of_gmm(2.5), sample=[sample(pb_batched_pct=5.0)], mix_design=mix)
    assert (one(both, "pb")["route"], one(both, "pb")["value"]) == ("ignition", pytest.approx(5.3333, abs=5e-5))
    assert one(both, "pb", "specimen")["parameters"] == '{"moisture": 0.0}'
    batched = figures(weighing=of_gmm(2.5), sample=[sample(pb_batched_pct=5.0)], mix_design=mix)
    assert (one(batched, "pb")["route"], one(batched, "pb")["value"], one(batched, "pb")["flags"]) == (
        "batched",
        5.0,
        None,
    )
    neither = figures(weighing=of_gmm(2.5), mix_design=mix)
    assert (one(neither, "pb")["route"], one(neither, "pb")["value"]) == ("mix_design_target", 5.3)
    assert "binder_content_from_design" in str(one(neither, "gse")["flags"])


def test_revision_is_the_latest_valid_or_else_the_first() -> None:
    revisions = [
        design(**DESIGN, revision=1, valid_from=date(2025, 3, 1)),
        design(**DESIGN, revision=2, valid_from=date(2025, 5, 1)),
        design(**DESIGN, revision=3, valid_from=date(2025, 6, 1)),
    ]
    taken = {"A": date(2025, 2, 1), "B": date(2025, 4, 30), "C": date(2025, 5, 1), "D": date(2025, 7, 1)}
    result = figures(sample=[sample(name, taken_on=day) for name, day in taken.items()], mix_design=revisions)
    assert dict(result.samples.select("sample_id", "revision").iter_rows()) == {"A": 1, "B": 1, "C": 2, "D": 3}


def test_cores_are_compared_with_the_maximum_of_their_lot() -> None:
    samples = [
        sample("S1"),
        sample("S2"),
        sample("S3", lot="2"),
        sample("S4", mix_id="OTHER"),
        sample("C1", material="core"),
        sample("C2", material="core", lot="9"),
    ]
    weighings = [*of_gmm(2.5, "S1"), *of_gmm(2.52, "S2"), *of_gmm(2.6, "S3"), *of_gmm(2.7, "S4")]
    weighings += [*of_gmb(2.33, "C1", "1"), *of_gmb(2.35, "C1", "2"), *of_gmb(2.3, "C2")]
    result = figures(sample=samples, weighing=weighings)
    assert one(result, "gmm_lot", sample_id="C1")["value"] == pytest.approx(2.51)
    row = one(result, "relative_compaction", sample_id="C1")
    assert (row["value"], row["n"]) == (pytest.approx(100 * 2.34 / 2.51), 2)
    assert one(result, "core_air_voids", sample_id="C1")["value"] == pytest.approx(100 - 100 * 2.34 / 2.51)
    assert str(one(result, "relative_compaction", sample_id="C2")["withheld"]).startswith("Gmm of the lot missing")
    # Gravities of cores never stand under the name of those of gyratory specimens.
    assert result.property_values.filter(pl.col("property") == "gmb").is_empty()


def test_both_wheels_make_the_mean() -> None:
    left, right = (
        track("left", {2: 0.05, 5000: 3.0, 10000: 4.0}),
        track("right", {2: 0.05, 4999: 2.0, 5001: 4.0, 10000: 11.0}),
    )
    result = figures(wheel_run=[left[0], right[0]], wheel_depth=left[1] + right[1])
    mean = one(result, "rut_depth", point=5000.0)
    assert (mean["value"], mean["n"]) == (pytest.approx(3.0), 2)
    assert (
        mean["parameters"] == '{"wheel_positions": [4, 5, 6, 7, 8], "wheel_reduction": "mean", "wheel_zeroed": false}'
    )
    assert mean["flags"] is None
    assert one(result, "rut_depth", point=10000.0)["flags"] == "wheels_differ"


def test_a_run_that_ended_before_the_pass_withholds_the_depth() -> None:
    left = track("left", {2: 0.05, 10000: 4.0, 20000: 5.0})
    right = track("right", {2: 0.05, 10000: 4.0, 14203: 12.5}, stop_reason="depth")
    result = figures(wheel_run=[left[0], right[0]], wheel_depth=left[1] + right[1])
    told = "right wheel: the run ended at pass 14203, before pass 15000 (the set depth was reached)"
    assert one(result, "rut_depth", "specimen", point=15000.0, specimen_no="1 right")["withheld"] == told
    # A mean of the wheel that lasted would flatter the mix.
    assert one(result, "rut_depth", point=15000.0)["withheld"] == told
    assert one(result, "rut_depth", point=10000.0)["value"] == pytest.approx(4.0)


def test_a_single_wheel_is_flagged_and_settings_are_kept() -> None:
    header, rows = track("left", {2: 0.05, 5000: 3.0}, bath_set_c=50.0, bath_mean_c=51.5, wheel_load_n=710.0)
    result = figures(wheel_run=[header], wheel_depth=rows)
    told = "bath_temperature_off_set_point single_wheel wheel_load_off"
    assert one(result, "rut_depth", point=5000.0)["flags"] == told
    made = {"sample": [sample()], "mix_design": [design()], "wheel_run": [header], "wheel_depth": rows}
    inputs = Inputs.of(**{name: frame(name, each) for name, each in made.items()})
    zeroed = derive(inputs, Results(wheel_positions=(1, 11), wheel_zeroed=True))
    assert one(zeroed, "rut_depth", point=5000.0)["value"] == pytest.approx(2.95)
    with pytest.raises(SettingsError, match="wheel_positions: expected some of 1 to 11"):
        derive(inputs, Results(wheel_positions=(0,)))


def test_counted_positions_that_are_missing_are_flagged() -> None:
    header, rows = track("left", {2: 0.05, 5000: 3.0})
    rows[1] |= {"depth_04_mm": None, "depth_01_mm": 50.0}
    row = one(figures(wheel_run=[header], wheel_depth=rows), "rut_depth", "specimen", point=5000.0)
    assert (row["value"], row["flags"]) == (pytest.approx(3.0), "positions_missing")


def test_dust_proportion_takes_the_finest_sieve() -> None:
    sieved = weighed("t30", before_wash=1000.0, after_wash=940.0) + retained({4.75: 400.0, 0.075: 538.0, 0.0: 2.0})
    result = figures(weighing=sieved + of_gmm(2.535))
    effective = one(result, "pbe")["value"]
    assert one(result, "passing", point=0.075)["value"] == pytest.approx(6.2)
    assert one(result, "dust_proportion")["value"] == pytest.approx(6.2 / effective)  # type: ignore[operator]


@pytest.mark.parametrize(
    ("lost", "flags"),
    [(1.5, None), (2.2, "sieving_loss_above_limit"), (4.0, "sieving_loss_above_limit sieving_loss_above_t27_limit")],
)
def test_loss_in_sieving(lost: float, flags: str | None) -> None:
    sieved = weighed("t30", before_wash=1060.0, after_wash=1000.0) + retained({4.75: 400.0, 0.075: 600.0 - lost})
    row = one(figures(weighing=sieved), "sieving_loss", "specimen")
    assert (row["value"], row["flags"]) == (pytest.approx(lost / 10), flags)


def test_order_of_rows_changes_nothing() -> None:
    weighings = [row for number, gmb in enumerate((2.41, 2.4037, 2.399)) for row in of_gmb(gmb, "S1", str(number))]
    weighings += [*of_gmm(2.501, specimen_no="a"), *of_gmm(2.5137, specimen_no="b")]
    inputs = Inputs.of(
        sample=frame("sample", [sample()]),
        mix_design=frame("mix_design", [design(**DESIGN)]),
        weighing=frame("weighing", weighings),
    )
    first = derive(inputs).property_values
    for seed in range(5):
        shuffled = Inputs.of(
            sample=inputs.sample,
            mix_design=inputs.mix_design,
            weighing=inputs.weighing.sample(fraction=1, shuffle=True, seed=seed),
        )
        assert derive(shuffled).property_values.equals(first)


def test_a_sample_alone_and_among_others_has_the_same_figures() -> None:
    rows = {
        name: [*of_gmb(2.4 + 0.001 * place, name), *of_gmm(2.5, name)] for place, name in enumerate(("S1", "S2", "S3"))
    }
    together = figures(sample=[sample(name) for name in rows], weighing=[row for each in rows.values() for row in each])
    for name, weighings in rows.items():
        alone = figures(sample=[sample(name)], weighing=weighings)
        assert together.property_values.filter(pl.col("sample_id") == name).equals(alone.property_values)
