"""Uncertainties of derived figures against the `uncertainties` library run over the same chain."""

import math

import polars as pl
import pytest
import uncertainties

from pipeline.derive import Inputs, derive
from pipeline.settings import SettingsError, Uncertainty
from pipeline.uncertainty.declared import contributions
from pipeline.validation.records import design, frame, of_gmm, retained, sample, weighed

BALANCE = math.hypot(0.0288675, 0.05, 0.06)
FIRST = {"dry": 1205.6, "ssd": 1208.2, "submerged": 700.4}
SECOND = {"dry": 1203.0, "ssd": 1206.1, "submerged": 698.1}


def figures(weighings, doubts: Uncertainty | None = None, **records) -> pl.DataFrame:
    made = {"sample": [sample(pb_batched_pct=5.3)], "mix_design": [design(gb=1.03, gsb=2.703)], "weighing": weighings}
    inputs = Inputs.of(**{record: frame(record, rows) for record, rows in (made | records).items()})
    return derive(inputs, None, doubts).property_values


def of(values: pl.DataFrame, name: str, level: str, **where) -> float:
    conditions = [pl.col(column) == value for column, value in where.items()]
    return values.filter(pl.col("property") == name, pl.col("level") == level, *conditions)["uncertainty"].item()


def masses(given=FIRST, u=BALANCE):
    ssd = math.hypot(u, 0.5)
    return (
        uncertainties.ufloat(given["dry"], u),
        uncertainties.ufloat(given["ssd"], ssd),
        uncertainties.ufloat(given["submerged"], u),
    )


def density(dry, ssd, submerged):
    return dry / (ssd - submerged) * uncertainties.ufloat(1, 7.4189e-5)


def test_a_whole_chain_keeps_what_its_figures_share() -> None:
    values = figures([*weighed("t166", **FIRST), *of_gmm(2.523)])
    gmb = density(*masses())
    assert of(values, "gmb", "specimen") == pytest.approx(gmb.std_dev, rel=1e-6)
    dry, empty, full = (uncertainties.ufloat(x, BALANCE) for x in (2523.0, 500.0, 2023.0))
    gmm = dry / (dry - (full - empty))
    pb, gsb = uncertainties.ufloat(5.3, 0.0028868), uncertainties.ufloat(2.703, 0.000288675)
    gb = uncertainties.ufloat(1.03, 0.000288675)
    assert of(values, "gmm", "sample") == pytest.approx(gmm.std_dev, rel=1e-6)
    gse = (100 - pb) / (100 / gmm - pb / gb)
    pba = 100 * gb * (gse - gsb) / (gse * gsb)
    pbe = pb - pba * (100 - pb) / 100
    for name, witness in (("gse", gse), ("pba", pba), ("pbe", pbe)):
        assert of(values, name, "sample") == pytest.approx(witness.std_dev, rel=1e-5), name


def test_a_mean_adds_the_spread_to_what_its_specimens_owe() -> None:
    weighings = [*weighed("t166", specimen_no="1", **FIRST), *weighed("t166", specimen_no="2", **SECOND)]
    one, other = density(*masses()), density(*masses(SECOND))
    scatter = (one.nominal_value - other.nominal_value) ** 2 / 2 / 2
    owed = (one.std_dev**2 + other.std_dev**2) / 2
    values = figures(weighings)
    assert of(values, "gmb", "sample") == pytest.approx(math.sqrt(owed + scatter), rel=1e-6)
    independent = figures(weighings, Uncertainty(specimens="independent"))
    assert of(independent, "gmb", "sample") == pytest.approx(math.sqrt(owed / 2 + scatter), rel=1e-6)


def test_weighings_on_one_balance_may_be_correlated() -> None:
    r = 0.8
    matrix = [[1, r, r], [r, 1, r], [r, r, 1]]
    given = list(zip(FIRST.values(), [BALANCE] * 3, strict=True))
    dry, ssd, submerged = uncertainties.correlated_values_norm(given, matrix)
    witness = density(dry, ssd + uncertainties.ufloat(0, 0.5), submerged)
    values = figures(weighed("t166", **FIRST), Uncertainty(weighing_correlation=r))
    assert of(values, "gmb", "specimen") == pytest.approx(witness.std_dev, rel=1e-6)


def test_the_register_gives_the_readability() -> None:
    rows = [row | {"instrument_id": "B-1"} for row in weighed("t166", **FIRST)]
    instrument = {"instrument_id": "B-1", "laboratory_id": "L", "kind": "balance", "readability_g": 1.0}
    values = figures(rows, instrument=[instrument])
    coarse = math.hypot(1 / math.sqrt(12), 0.05, 0.06)
    assert of(values, "gmb", "specimen") == pytest.approx(density(*masses(u=coarse)).std_dev, rel=1e-6)


def test_settings_replace_contributions() -> None:
    values = figures(weighed("t166", **FIRST), Uncertainty(contributions={"surface_dry": 0.0, "bath_density": 0.0}))
    dry, ssd, submerged = (uncertainties.ufloat(mass, BALANCE) for mass in FIRST.values())
    assert of(values, "gmb", "specimen") == pytest.approx((dry / (ssd - submerged)).std_dev, rel=1e-6)
    with pytest.raises(SettingsError, match=r"'surface_dri' is not declared. Did you mean 'surface_dry'\?"):
        contributions(Uncertainty(contributions={"surface_dri": 0.1}))


def test_a_cumulative_mass_is_the_sum_of_its_weighings() -> None:
    rows = weighed("t30", before_wash=1000.0, after_wash=950.0) + retained({9.5: 100.0, 4.75: 300.0, 0.0: 550.0})
    values = figures(rows)
    for sieve, cumulative, count in ((9.5, 100.0, 1), (4.75, 400.0, 2)):
        before = uncertainties.ufloat(1000.0, BALANCE)
        sieved = uncertainties.ufloat(cumulative, BALANCE * math.sqrt(count))
        witness = 100 * (before - sieved) / before
        assert of(values, "passing", "specimen", point=sieve) == pytest.approx(witness.std_dev, rel=1e-6)


def test_a_figure_that_was_withheld_has_no_uncertainty() -> None:
    values = figures(weighed("t166", dry=1209.0, ssd=1208.2, submerged=700.4))
    withheld = values.filter(pl.col("value").is_null())
    assert not withheld.is_empty()
    assert withheld["uncertainty"].null_count() == withheld.height
