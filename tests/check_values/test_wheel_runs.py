"""Wheel-tracking records through the derivation: published results, and an independent computation of one record."""

import json

import polars as pl
import pytest

from pipeline.validation.records import wheel
from tests.check_values.examples import entries

POSITIONS = [f"depth_{number:02d}_mm" for number in range(1, 12)]
RUNS = {entry["id"]: entry for entry in entries("run")}


def test_the_fitted_range_is_part_of_the_result() -> None:
    run = RUNS["lane 7 replicate 2"]
    values = wheel(run["wheel_pass"], run["depth_mm"]).filter(pl.col("level") == "specimen")
    told = {row["property"]: json.loads(row["parameters"]) for row in values.rows(named=True)}
    polynomial = told["stripping_number_polynomial"]
    assert (polynomial["polynomial_first_pass"], polynomial["polynomial_last_pass"]) == (500, 19998)
    assert polynomial["polynomial_readings"] == 40
    # The root mean square of the residuals of the same independent computation.
    assert polynomial["polynomial_rms"] == pytest.approx(0.0358, abs=5e-5)
    assert polynomial["polynomial_steepest_pass"] == pytest.approx(17370, abs=0.5)
    assert polynomial["polynomial_procedure"].startswith("sixth degree")
    assert (told["sip_lines"]["wheel_lines_from_pass"], told["sip_lines"]["wheel_positions"]) == (1000, [4, 5, 6, 7, 8])
    for prop in ("stripping_slope_lines", "sip_lines", "slope_ratio_lines"):
        assert (told[prop]["lines_first_pass"], told[prop]["lines_last_pass"], told[prop]["lines_step"]) == (
            1000,
            19998,
            100,
        )
    assert "log_model_last_pass" in told["stripping_number_log_model"]
