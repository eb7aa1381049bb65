"""The rounding rule of the settings reaches figures as text, verdicts, and the pages."""

import polars as pl

from pipeline.reporting import as_reported, with_text
from pipeline.rounding import Rule
from pipeline.settings import Results, Settings, Uncertainty
from pipeline.state import derivation
from plugins.renderers.verbs.shell import as_of

#: Air voids are reported to one decimal; ASTM E29 keeps 8.0, the conventional rule gives 8.1.
HALF = pl.DataFrame(
    {"property": ["air_voids"], "point": [None], "value": [8.05]}, schema_overrides={"point": pl.Float64}
)


def test_a_half_by_either_rule() -> None:
    assert with_text(HALF)["text"].to_list() == ["8.0"]
    assert with_text(HALF, Rule.HALF_UP)["text"].to_list() == ["8.1"]
    assert as_reported(HALF)["value"].to_list() == [8.0]
    assert as_reported(HALF, Rule.HALF_UP)["value"].to_list() == [8.1]


def test_pages_state_the_rule() -> None:
    run = {"run_id": ["1"], "finished_at": ["2026-01-02 03:04:05"], "version": ["0"], "rounding": [Rule.HALF_UP.words]}
    told = as_of({"run": pl.DataFrame(run)})
    assert told.endswith(
        "Figures are rounded to their reporting decimals, an exact half away from zero (conventional)."
    )


def test_a_changed_rule_or_contribution_derives_and_renders_anew() -> None:
    marks = {
        derivation(each)
        for each in (
            Settings(),
            Settings(results=Results(rounding="half_up")),
            Settings(uncertainty=Uncertainty(contributions={"surface_dry": 0.3})),
        )
    }
    assert len(marks) == 3
