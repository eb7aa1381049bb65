"""Open wheel-tracking records (MIT licence) against the results their authors published, where they are at hand."""

import json
import tomllib
from datetime import datetime
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.optimize import curve_fit

from pipeline import settings
from pipeline.derive import Inputs, derive
from pipeline.local import Local
from pipeline.order import one_pass
from pipeline.tracking import log_model
from pipeline.validation.records import design, frame, sample
from pipeline.workspace import Workspace
from tests.check_values.test_open_data import DATA
from tests.check_values.test_wheel_runs import POSITIONS
from tests.scenario.formats.book import book
from tests.scenario.formats.track import Track, table

pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason=f"the open data are not at hand in {DATA.name}")

with (Path(__file__).parent / "depth_tables.toml").open("rb") as opened:
    DEPTH_TABLES = [pytest.param(each, id=each["id"]) for each in tomllib.load(opened)["depth_table"]]

#: Published up to pass 16,100 while its record goes on; what was left out of it is not known (note with the data).
CUT = "40RAP-P-1"
#: Both fits end on a bound (note kept with the data): not identifiable.
ON_BOUND = "40RAP-B-1"


@pytest.fixture(scope="module")
def raw() -> pl.DataFrame:
    return pl.read_csv(DATA / "hamburg-rut-depth.csv")


@pytest.fixture(scope="module")
def published() -> dict[str, dict[str, float]]:
    rows = pl.read_csv(DATA / "hamburg-results.csv").rows(named=True)
    return {row["specimen"]: row for row in rows}


@pytest.fixture(scope="module")
def derived(raw: pl.DataFrame, published: dict[str, dict[str, float]]) -> pl.DataFrame:
    """Give the figures of the six records, each up to its published last pass."""
    key = {"specimen_no": pl.lit("1"), "wheel": pl.lit("left")}
    long = raw.unpivot(index="pass", variable_name="sample_id", value_name="depth").select(
        "sample_id",
        *(value.alias(name) for name, value in key.items()),
        pl.col("pass").alias("wheel_pass"),
        pl.col("pass").alias("source_line"),
        *(pl.col("depth").alias(name) for name in POSITIONS),
    )
    ends = pl.DataFrame({"sample_id": list(published), "end": [row["max_pass"] for row in published.values()]})
    runs = [
        {"sample_id": name, "specimen_no": "1", "wheel": "left", "passes": 20000, "stop_reason": "passes"}
        for name in published
    ]
    made = {"sample": [sample(name) for name in published], "mix_design": [design()], "wheel_run": runs}
    given = {record: frame(record, rows) for record, rows in made.items()}
    depths = long.join(ends, on="sample_id").filter(pl.col("wheel_pass") <= pl.col("end")).drop("end")
    return derive(Inputs.of(**given, wheel_depth=depths)).property_values.filter(pl.col("level") == "specimen")


def figure(derived: pl.DataFrame, name: str, prop: str, point: float | None = None) -> dict[str, object]:
    wanted = derived.filter(
        pl.col("sample_id") == name, pl.col("property") == prop, pl.col("point").eq_missing(pl.lit(point, pl.Float64))
    )
    (row,) = wanted.iter_rows(named=True)
    return row


@pytest.mark.parametrize("entry", DEPTH_TABLES)
def test_depths_of_the_printed_table_stand_in_the_records(entry: dict[str, list[float]], raw: pl.DataFrame) -> None:
    column = raw[str(entry["specimen"])]
    read = dict(zip(raw["pass"].to_list(), column.to_list(), strict=True))
    assert [read[at] for at in entry["at"]] == pytest.approx(entry["published"], abs=1e-9)
    beyond = raw.filter(column >= 12.5)["pass"].to_list()
    assert beyond[:1] == [entry[name] for name in ("first_beyond_limit",) if name in entry]


def test_passes_to_the_depth_limit(derived: pl.DataFrame, published: dict[str, dict[str, float]]) -> None:
    assert figure(derived, "40RAP-B-2", "passes_to_limit_depth")["value"] == 17240
    between = figure(derived, "40RAP-B-2", "passes_to_limit_depth_interpolated")["value"]
    assert 17238 < float(str(between)) <= 17240
    for name in published.keys() - {"40RAP-B-2"}:
        told = str(figure(derived, name, "passes_to_limit_depth")["withheld"])
        assert told.startswith("left wheel: 12.5 mm not reached in ")


def test_stripping_number_and_corrected_depths_of_the_polynomial(
    derived: pl.DataFrame, published: dict[str, dict[str, float]]
) -> None:
    for name, row in published.items():
        row_of = figure(derived, name, "stripping_number_polynomial")
        # One record shows no clear stripping (slope ratio 1.43 by the reference): its number stands, doubted.
        assert (row_of["flags"] == "polynomial_doubtful") == (name == ON_BOUND)
        number = row_of["value"]
        depths = [figure(derived, name, "corrected_rut_depth_polynomial", at)["value"] for at in (10000.0, 20000.0)]
        told = [row["corrected_rut_10k_poly6_mm"], row["corrected_rut_20k_poly6_mm"]]
        if name == CUT:
            # The same least squares on what is at hand: 5,052.64 (own computation kept with the reference).
            assert number == pytest.approx(5052.64, abs=0.005)
            assert depths == pytest.approx(told, abs=0.0035)
        else:
            # Printed to at least eight decimals; what is left is the rounding of another least-squares routine.
            assert number == pytest.approx(row["stripping_number_poly6_pass"], abs=1e-4)
            assert depths == pytest.approx(told, abs=1e-8)


def test_inflection_point_of_the_published_lines(published: dict[str, dict[str, float]]) -> None:
    from pipeline.compute import compute

    for row in published.values():
        lines = {
            f"{line}_{part}": row[f"{line}_line_{part}_{unit}"]
            for line in ("creep", "stripping")
            for part, unit in (("slope", "mm_per_pass"), ("intercept", "mm"))
        }
        assert compute("line_intersection", lines).value == pytest.approx(row["sip_pass"], abs=1e-4)


#: Tangents of the polynomial (slope ratio below 2: none), two fitted lines on a grid of 100 passes; own
#: computation by another program, kept in the note with the data.
INFLECTIONS = {
    "40RAP-B-1": (None, None),
    "40RAP-B-2": (12325, 12200),
    "40RAP-P-1": (12858, 12900),
    "40RAP-P-2": (12294, None),
    "20RAP-2": (14602, 14600),
    "20RAP-3": (16765, 17100),
}


def test_inflection_points_by_both_procedures(derived: pl.DataFrame) -> None:
    for name, expected in INFLECTIONS.items():
        for way, value in zip(("polynomial", "lines"), expected, strict=True):
            row = figure(derived, name, f"sip_{way}")
            if value is None:
                assert row["value"] is None
                assert str(row["withheld"]).startswith("the mix counts as non-stripping")
                assert row["flags"] == "no_stripping"
            else:
                assert row["value"] == pytest.approx(value, abs=0.5)


def test_log_model(derived: pl.DataFrame, published: dict[str, dict[str, float]]) -> None:
    for name, row in published.items():
        found = figure(derived, name, "stripping_number_log_model")
        if name == ON_BOUND:
            assert found["value"] is None
            assert "not identifiable, the fit ends on the bound N ult" in str(found["withheld"])
        else:
            # 3.9 passes for the record that was cut, 0.23 otherwise: differences of the note kept with the data.
            allowed = 3.9 if name == CUT else 0.23
            assert found["value"] == pytest.approx(row["stripping_number_log_model_pass"], abs=allowed)


def test_viscoplastic_depths(derived: pl.DataFrame, published: dict[str, dict[str, float]]) -> None:
    unique = {"40RAP-B-2", "20RAP-2"}
    for name, row in published.items():
        for at, told in ((10000.0, "corrected_rut_10k_log_model_mm"), (20000.0, "corrected_rut_20k_log_model_mm")):
            found = figure(derived, name, "corrected_rut_depth_log_model", at)
            if name in unique:
                # 0.0025 and 0.0064 mm at worst, by the note kept with the data.
                assert found["value"] == pytest.approx(row[told], abs=0.0026 if at == 10000 else 0.0065)
            else:
                assert found["value"] is None
                assert "not identifiable" in str(found["withheld"])
    for name, allowed in (("40RAP-B-2", 1e-4), ("20RAP-2", 1.4e-3)):
        # 0.01 % and 0.13 %, by the reference's own refit.
        life = figure(derived, name, "stripping_life")["value"]
        assert life == pytest.approx(published[name]["stripping_life_log_model_pass"], rel=allowed)


def test_viscoplastic_fit_on_its_bound_is_the_published_one(
    raw: pl.DataFrame, published: dict[str, dict[str, float]]
) -> None:
    """Four published corrected depths rest on the bound of 50 mm; from the published LCSN they come out alike."""
    passes = raw["pass"].to_numpy().astype(float)
    for name, row in published.items():
        number = np.array([row["stripping_number_log_model_pass"]])
        found = log_model.viscoplastic(passes, raw[name].to_numpy()[None], number)
        depth, alpha, exponent = (found[part][0] for part in ("depth_ultimate", "alpha", "exponent"))
        curve = [depth * np.exp(-((alpha / at) ** exponent)) for at in (10000, 20000)]
        told = [row["corrected_rut_10k_log_model_mm"], row["corrected_rut_20k_log_model_mm"]]
        assert curve == pytest.approx(told, abs=0.0065)


def test_scipy_finds_the_same_log_model(raw: pl.DataFrame, published: dict[str, dict[str, float]]) -> None:
    """An independent least-squares routine, from a start of its own."""
    passes = raw["pass"].to_numpy().astype(float)
    names = [name for name in published if name not in (CUT, ON_BOUND)]
    found = log_model.fit(passes, raw.select(names).to_numpy().T.copy())

    def model(at: np.ndarray, rho: float, beta: float, ultimate: float) -> np.ndarray:
        return rho * np.log(ultimate / at) ** (-1 / beta)

    for place, name in enumerate(names):
        depths = raw[name].to_numpy()
        bounds = ([1e-3, 0.05, passes[-1] + 10], [1e3, 20, 5 * passes[-1]])
        best, _ = curve_fit(
            model, passes, depths, p0=(5, 1.2, 40000), bounds=bounds, xtol=1e-14, ftol=1e-14, gtol=1e-14
        )
        ours = [found[part][place] for part in ("rho", "beta", "passes_ultimate")]
        squares = [np.sum((model(passes, *each) - depths) ** 2) for each in (ours, best)]
        assert squares[0] <= squares[1] * (1 + 1e-9)
        assert ours == pytest.approx(best.tolist(), rel=1e-4)


def test_an_open_record_goes_through_a_whole_run(
    lab: Workspace, raw: pl.DataFrame, published: dict[str, dict[str, float]]
) -> None:
    """Both replicates of one mix as the wheels of one test: export, register, run, question."""
    from click.testing import CliRunner

    from pipeline.cli.group import group

    wheels = {"left": "40RAP-B-1", "right": "40RAP-B-2"}
    at = datetime(2026, 5, 4, 9)
    depths = {side: np.repeat(raw[name].to_numpy()[:, None], 11, axis=1) for side, name in wheels.items()}
    run = Track(
        machine="WT-1",
        written=at.replace(hour=16),
        started=at,
        sample="OPEN-1",
        test="1",
        set_passes=20000,
        ended_by="passes",
        load_n=(703.0, 703.0),
        bath_set_c=50.0,
        bath_mean_c=50.0,
        passes_per_min=52.0,
        air_voids=(7.0, 7.0),
        passes=raw["pass"].to_numpy(),
        **depths,
    )
    (lab.inbox / "open.tsv").write_bytes(table(run))
    rows = {
        "Laboratories": [("LAB", "Laboratory of the open records", "none")],
        "Projects": [("OPEN", "Open records", "test track", "none", "LAB", None)],
        "Samples": [("OPEN-1", "OPEN", "40RAP-B", "mix", "production", "LAB", "1", "1", at.date(), "track", 0.0, None)],
    }
    (lab.inbox / "register.xlsx").write_bytes(book(at, rows))
    one_pass(lab, settings.load(lab.root), Local(), pages=True)
    query = (
        "select specimen_no, value, flags from property_value where valid_to_run is null "
        "and property = 'stripping_number_polynomial' and level = 'specimen' order by 1"
    )
    done = CliRunner().invoke(group, ["-w", str(lab.root), "sql", query, "--json"], catch_exceptions=False)
    found = json.loads(done.stdout)
    # Printed to eight decimals; a ten-thousandth of a pass is left to another least-squares routine.
    for row, (side, name) in zip(found, wheels.items(), strict=True):
        assert row["specimen_no"] == f"1 {side}"
        assert row["value"] == pytest.approx(published[name]["stripping_number_poly6_pass"], abs=1e-4)
    wide = "select stripping_number_polynomial as sn, sip_lines from sample_results where sample_id = 'OPEN-1'"
    done = CliRunner().invoke(group, ["-w", str(lab.root), "sql", wide, "--json"], catch_exceptions=False)
    (row,) = json.loads(done.stdout)
    mean = sum(published[name]["stripping_number_poly6_pass"] for name in wheels.values()) / 2
    assert row["sn"] == pytest.approx(mean, abs=1e-4)
    # One wheel does not strip by its lines: no mean of the other.
    assert row["sip_lines"] is None
    done = CliRunner().invoke(group, ["-w", str(lab.root), "trace", "stripping_number_polynomial", "OPEN-1"])
    assert "sixth degree, all readings, first root of p'' from pass 200 on" in done.output
    assert "not recorded" not in done.output
