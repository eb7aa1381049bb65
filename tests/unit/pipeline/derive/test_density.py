"""Density methods on one specimen: which of them counts, what withholds it, what flags it, and why there is none."""

from functools import cache

import polars as pl
import pytest

from pipeline.derive import Derived, Inputs, derive
from pipeline.settings import Results, SettingsError
from pipeline.validation.records import design, frame, measured, of_gmb, of_gmm, sample, weighed

Rows = list[dict[str, object]]
#: ID-T331-1: Gmb 2.2999 with a bag of apparent gravity 0.9.
SEALED = {"dry": 1500.0, "sealed": 1527.0, "unsealed": 1499.8, "sealed_submerged": 844.6}
#: Absorbs 9.33 % (EX-T166-1) and 0.34 % (EX-T166-3).
ABSORBING = {"dry": 1204.6, "ssd": 1250.4, "submerged": 759.7}
TIGHT = {"dry": 1195.2, "ssd": 1196.9, "submerged": 695.2}
BAG = Results(bag_gravity_small=(0.9,))


@cache
def laboratory() -> Derived:
    """Derive, at once, one loose-mix sample of specimens that went through several methods."""
    wiped = {"absorbing": ABSORBING, "absorbing alone": ABSORBING, "tight": TIGHT, "leaking": ABSORBING}
    wiped["impossible"] = {"dry": 1200.0, "ssd": 1190.0, "submerged": 700.0}
    bags = dict.fromkeys(("absorbing", "tight", "impossible", "sealed alone"), SEALED)
    bags |= {"leaking": SEALED | {"unsealed": 1498.7}, "leaking and measured": SEALED | {"unsealed": 1500.7}}
    bags["no mass after"] = {name: mass for name, mass in SEALED.items() if name != "unsealed"}
    bags["large bag"] = SEALED | {"sealed": 1536.0}
    rows = [row for name, masses in wiped.items() for row in weighed("t166", "S1", name, **masses)]
    rows += [row for name, masses in bags.items() for row in weighed("t331", "S1", name, **masses)]
    rows += weighed("t269", "S1", "leaking and measured", dry=1080.0) + weighed("t269", "S1", "few", dry=1080.0)
    rows += weighed("t269", "S1", "no diameter", dry=1080.0)
    lengths = measured("t269", "S1", "leaking and measured", height=63.5, diameter=101.6)
    lengths += measured("t269", "S1", "few", height=63.5, diameter=101.6)[:-1]
    lengths += measured("t269", "S1", "no diameter", height=63.5)
    made = {"sample": [sample()], "mix_design": [design()], "weighing": rows + of_gmm(2.48), "dimension": lengths}
    return derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()}), BAG)


def found(prop: str, specimen_no: str) -> dict[str, object]:
    """Return the only row of a property of a specimen."""
    values = laboratory().property_values.filter(
        pl.col("property") == prop, pl.col("specimen_no") == specimen_no, pl.col("level") == "specimen"
    )
    (row,) = values.to_dicts()
    return row


@pytest.mark.parametrize(
    ("specimen_no", "value", "route", "flags"),
    [
        ("absorbing", 2.2999, "sealed", None),
        ("absorbing alone", 2.45486, "surface_dry", "water_absorbed_above_limit"),
        ("tight", 2.38230, "surface_dry", None),
        ("leaking", 2.45486, "surface_dry", "water_absorbed_above_limit"),
        ("impossible", 2.2999, "sealed", None),
        ("sealed alone", 2.2999, "sealed", None),
        ("leaking and measured", 2.1040, "dimensions", None),
        ("few", 2.1040, "dimensions", "too_few_readings"),
    ],
)
def test_the_gravity_that_counts(specimen_no: str, value: float, route: str, flags: str | None) -> None:
    row = found("gmb", specimen_no)
    assert (row["value"], row["route"], row["flags"]) == (pytest.approx(value, abs=6e-5), route, flags)


def test_a_figure_not_used_is_computed_and_flagged_all_the_same() -> None:
    beside = found("gmb_surface_dry", "absorbing")
    assert (beside["value"], beside["flags"]) == (pytest.approx(2.45486, abs=5e-6), "water_absorbed_above_limit")
    assert found("gmb_sealed", "tight")["value"] == pytest.approx(2.2999, abs=5e-5)
    assert found("air_voids", "absorbing")["value"] == pytest.approx(100 * (1 - 2.2999 / 2.48), abs=0.005)
    alone = laboratory().property_values.filter(pl.col("property") == "gmb_surface_dry")
    assert set(alone["specimen_no"]) == {"absorbing", "tight", "leaking", "impossible"}


def test_the_choice_of_the_bag_is_stored_with_the_figure() -> None:
    stored = str(found("gmb", "absorbing")["parameters"])
    assert '"bag_gravity_small": [0.9]' in stored
    assert '"bag_loss_pct": 0.08' in stored


@pytest.mark.parametrize(
    ("specimen_no", "prop", "reason"),
    [
        ("leaking", "gmb_sealed", "the mass changed in the bag: it leaked or tore (at most 0.08 % lost"),
        ("no mass after", "gmb", "mass of the specimen taken out of its bag, in air missing (role 'unsealed')"),
        (
            "large bag",
            "gmb",
            "apparent specific gravity of the bag missing: state [results] bag_gravity_large in the settings",
        ),
        ("no diameter", "gmb", "mean diameter of the specimen missing (role 'diameter')"),
    ],
)
def test_no_figure_has_a_reason(specimen_no: str, prop: str, reason: str) -> None:
    row = found(prop, specimen_no)
    assert row["value"] is None
    assert str(row["withheld"]).startswith(reason)


def test_a_leak_is_listed_with_its_weighings_and_what_to_do() -> None:
    rows = laboratory().contradictions.filter(pl.col("reason").str.contains("leaked"))
    assert set(rows["found"]) == {"1500.0 g (dry)", "1498.7 g (unsealed)", "1500.7 g (unsealed)"}
    assert rows["remedy"].str.contains("new bag").all()
    # The dry mass of the other method, on the same specimen, has no part in it.
    assert "1204.6 g (dry)" not in set(rows["found"])


def test_every_figure_of_the_other_methods_has_an_uncertainty() -> None:
    values = laboratory().property_values.filter(
        pl.col("property").is_in(["gmb_sealed", "gmb_dimensions"]), pl.col("value").is_not_null()
    )
    assert values.height >= 4
    assert values["uncertainty"].is_between(1e-4, 0.01).all()


@cache
def circumstances(limits: tuple[tuple[str, float], ...] = ()) -> Derived:
    """Derive specimens weighed under circumstances outside the limits, and two increments of loose mixture."""
    off = {"specimen_temperature_c": 31.0, "immersion_time_min": 7.0, "instrument_id": "coarse"}
    rows: Rows = [row | off for row in weighed("t166", "S1", "1", **TIGHT)]
    rows += [row | {"oven_temperature_c": 130.0} for row in weighed("t166", "S1", "2", dried=1195.2, ssd=1196.9)]
    rows += weighed("t166", "S1", "2", dried_before=1196.0, submerged=695.2)
    late = {"vacuum_time_min": 20.0, "shaker_rate_per_min": 200.0, "container_volume_cm3": 1500.0}
    rows += [row | late for row in of_gmm(2.48, "S1", "1")]
    small = weighed("t209", "S2", "1", dry=700.0, container_submerged=0.0, container_sample_submerged=420.0)
    rows += small + weighed("t209", "S3", "1", dry=700.0, container_submerged=0.0, container_sample_submerged=420.0)
    rows += weighed("t209", "S3", "2", dry=900.0, container_submerged=0.0, container_sample_submerged=540.0)
    balance = {"instrument_id": "coarse", "laboratory_id": "L", "kind": "balance", "readability_g": 2.0}
    made = {"sample": [sample(), sample("S2"), sample("S3")], "mix_design": [design()], "weighing": rows}
    made |= {"instrument": [balance]}
    inputs = Inputs.of(**{record: frame(record, each) for record, each in made.items()})
    return derive(inputs, Results(limits=dict(limits)))


def flags_of(derived: Derived, prop: str, sample_id: str, specimen_no: str) -> set[str]:
    wanted = {"property": prop, "sample_id": sample_id, "specimen_no": specimen_no, "level": "specimen"}
    (row,) = derived.property_values.filter(*(pl.col(name) == value for name, value in wanted.items())).to_dicts()
    assert row["value"] is not None
    return set((row["flags"] or "").split())


@pytest.mark.parametrize(
    ("prop", "sample_id", "specimen_no", "flags"),
    [
        ("gmb", "S1", "1", {"specimen_temperature_off", "immersion_time_off", "balance_too_coarse"}),
        ("gmb", "S1", "2", {"oven_temperature_off", "not_at_constant_mass"}),
        ("gmm", "S1", "1", {"vacuum_time_off", "shaker_rate_off", "container_volume_off"}),
        ("gmm", "S2", "1", {"sample_too_small"}),
        ("gmm", "S3", "1", set()),
        ("gmm", "S3", "2", set()),
    ],
)
def test_circumstances_outside_the_limits_flag(prop: str, sample_id: str, specimen_no: str, flags: set[str]) -> None:
    assert flags_of(circumstances(), prop, sample_id, specimen_no) == flags


def test_limits_of_the_settings_replace_those_of_the_methods() -> None:
    """Among them a ladder of least masses, whose rungs reach the check by way of the sample."""
    lenient = circumstances((("t209_least_mass_at_12_5_mm_g", 600), ("specimen_temperature_tolerance_c", 8)))
    assert flags_of(lenient, "gmm", "S2", "1") == set()
    assert flags_of(lenient, "gmb", "S1", "1") == {"immersion_time_off", "balance_too_coarse"}


def read(place: str, density: float, sample_id: str = "C1", **given: object) -> dict[str, object]:
    """Return one reading of a gauge at a place."""
    return {"sample_id": sample_id, "specimen_no": place, "reading": 1, "gauge_density_kg_m3": density} | given


@cache
def pavement() -> Derived:
    """Derive cores and gauge readings of two lots, one without a core, and thickness read and stated."""
    cores = of_gmb(2.35, "C1", "1") + of_gmb(2.36, "C1", "2") + of_gmb(2.37, "C1", "4")
    readings = [read("1", 2310.0, instrument_id="G1"), read("2", 2320.0, instrument_id="G1")]
    readings += [read("3", 2330.0, instrument_id="G1"), read("4", 2300.0, instrument_id="G2")]
    readings += [
        read("5", 2330.0, instrument_id="G3"),
        read("1", 2300.0, "C2", instrument_id="G1", correlation_kg_m3=15.0),
    ]
    readings += [read("6", 2300.0, instrument_id="G1"), read("6", 2310.0, instrument_id="G2", reading=2)]
    lengths = measured("d3549", "C1", "1", thickness=50.0) + measured("d3549", "C1", "2", thickness=50.0)[:3]
    lengths[0]["length_mm"] = 60.0
    stated = {"sample_id": "C1", "specimen_no": "4", "thickness_mm": 28.0}
    made = {
        "sample": [sample(), sample("C1", material="core"), sample("C2", material="core", lot="2")],
        "mix_design": [design(reference_density_kg_m3=2400.0)],
        "weighing": cores + of_gmm(2.5),
        "gauge_reading": readings,
        "dimension": lengths,
        "core": [stated],
    }
    return derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()}))


def place(prop: str, number: str, sample_id: str = "C1") -> dict[str, object]:
    """Return the only row of a property at a place of the pavement."""
    wanted = {"property": prop, "sample_id": sample_id, "specimen_no": number, "level": "specimen"}
    (row,) = pavement().property_values.filter(*(pl.col(name) == value for name, value in wanted.items())).to_dicts()
    return row


def test_a_gauge_is_corrected_by_the_cores_of_its_lot_and_by_its_own_only() -> None:
    differences = [2.35 * 997.1 - 2310, 2.36 * 997.1 - 2320]
    row = place("core_gauge_correlation", "3")
    assert (row["value"], row["n"], row["route"]) == (pytest.approx(sum(differences) / 2), 2, "of_lot")
    assert row["flags"] == "correlation_of_few_cores"
    assert place("gauge_density_corrected", "3")["value"] == pytest.approx(2330 + sum(differences) / 2)
    assert place("core_gauge_correlation", "4")["value"] == pytest.approx(2.37 * 997.1 - 2300)


def test_a_place_without_correlation_has_the_stated_one_or_a_reason() -> None:
    row = place("gauge_density_corrected", "1", "C2")
    assert (row["value"], place("core_gauge_correlation", "1", "C2")["route"]) == (2315.0, "stated")
    assert str(place("gauge_density_corrected", "5")["withheld"]).startswith("core correlation missing: no place")
    assert str(place("relative_compaction_gauge", "1", "C2")["withheld"]).startswith("Gmm of the lot missing")
    mixed = str(place("gauge_density_corrected", "6")["withheld"])
    assert mixed.startswith("more than one gauge was read at this place")


def test_a_core_is_compared_with_the_lot_and_with_the_reference() -> None:
    assert place("relative_compaction", "1")["value"] == pytest.approx(94.0)
    assert place("core_air_voids", "1")["value"] == pytest.approx(6.0)
    assert place("relative_compaction_reference", "1")["value"] == pytest.approx(100 * 2.35 * 997.1 / 2400)


def test_thickness_is_the_mean_of_the_readings_or_as_stated() -> None:
    one, two, stated = (place("core_thickness", number) for number in "124")
    assert (one["value"], one["flags"]) == (52.5, "thickness_uneven")
    assert (two["value"], two["flags"]) == (50.0, "too_few_readings")
    assert (stated["value"], stated["route"]) == (28.0, "stated")
    # Mix with 12.5 mm nominal and 19 mm maximum size: 28.5 mm at least.
    assert place("core_gmb", "4")["flags"] == "specimen_small_for_aggregate"
    assert place("core_gmb", "1")["flags"] is None


@pytest.mark.parametrize("given", [(0.9, 0.1, 0.2), ("0.9",), (0.0,), (5.0,)])
def test_the_gravity_of_a_bag_must_be_one(given: tuple[object, ...]) -> None:
    with pytest.raises(SettingsError, match="bag_gravity_small: expected"):
        Results(bag_gravity_small=given)  # type: ignore[arg-type]
