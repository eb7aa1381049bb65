"""Single results against their limits under the decision rule of the set: verdict, margin, probability, or why none."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import polars as pl

from pipeline.judge.limits import applicable, bounds
from pipeline.judge.statistics.decision import compared, decided
from pipeline.rounding import Rule
from schemas.vocabulary import Basis, DecisionRule, LimitUse, Phase, RoundingMethod, Verdict

#: Columns of the result.
COLUMNS = (
    "sample_id",
    "set_id",
    "limit_id",
    "property",
    "point",
    "value",
    "target",
    "lower",
    "upper",
    "decision_rule",
    "uncertainty",
    "guard",
    "margin",
    "probability",
    "verdict",
    "reason",
    "flags",
)


@dataclass(frozen=True)
class Contract:
    """What the contracts say, as current rows of their records.

    Attributes
    ----------
    sets, limits, plans, pieces, precision
        `specification_set`, `specification_limit`, `acceptance_plan`, `pay_piece`, `precision_limit`.
    faults
        `set_id`, `subject` (limit or plan), `fault`: what in the sets contradicts itself; see `faults`.
    """

    sets: pl.DataFrame
    limits: pl.DataFrame
    plans: pl.DataFrame
    pieces: pl.DataFrame
    precision: pl.DataFrame
    faults: pl.DataFrame


@dataclass(frozen=True)
class Reporting:
    """How figures are reported: `decimals` (`property`, `point`, `decimals`), rule of an exact half, stand-ins.

    `stand_ins`: flag -> property of figures that stand in for a test that was not made; they are never judged.
    """

    decimals: pl.DataFrame
    rule: Rule = Rule.HALF_EVEN
    stand_ins: Mapping[str, str] = field(default_factory=dict)


def judge(
    samples: pl.DataFrame, values: pl.DataFrame, contract: Contract, target: pl.DataFrame, reporting: Reporting
) -> pl.DataFrame:
    """Judge sample results against the specification sets that hold for them.

    Parameters
    ----------
    samples
        As from `subjects`.
    values
        Sample-level property values: `sample_id`, `property`, `point`, `value`, `withheld`, `flags`, `uncertainty`.
    contract, target, reporting
        The sets; targets as from `limits.targets`; how figures are reported.

    Returns
    -------
    Rows of `judgement` without validity: one per sample and limit that has a result or requires one. `value` is the
    figure that was compared: rounded to the limit's decimals, or unrounded under the absolute method of ASTM E29.
    """
    single = contract.limits.filter(
        pl.col("use").fill_null(LimitUse.ACCEPTANCE.value) == LimitUse.ACCEPTANCE.value, pl.col("average_of").is_null()
    )
    paired = bounds(applicable(samples, single), target)
    joined = paired.join(
        values, on=["sample_id", "property", "point"], how="left", nulls_equal=True, maintain_order="left"
    )
    wanted = joined.filter(pl.col("value").is_not_null() | pl.col("required"))
    ruled = _with_rules(wanted, contract, reporting)
    judged = decided(compared(ruled, reporting.rule).with_columns(u=pl.col("uncertainty")))
    reason = _reason(reporting.stand_ins)
    none = pl.lit(None, pl.Float64)
    lost = pl.col("reason").is_not_null()
    return (
        judged.with_columns(reason=reason)
        .with_columns(
            value=pl.col("compared"),
            verdict=pl.when(lost).then(pl.lit(Verdict.NOT_JUDGED.value)).otherwise("verdict"),
            **{name: pl.when(lost).then(none).otherwise(name) for name in ("guard", "margin", "probability")},
        )
        .select(COLUMNS)
    )


def _with_rules(wanted: pl.DataFrame, contract: Contract, reporting: Reporting) -> pl.DataFrame:
    """Add decision rule, guard factor, rounding, decimals, and what is at fault in the set."""
    sets = contract.sets.select("set_id", "decision_rule", "guard_factor", "rounding")
    planned = contract.plans.select("set_id", "property", "point", "material").unique().with_columns(planned=True)
    faults = contract.faults.group_by("set_id", "subject").agg(pl.col("fault").sort().first())
    there = reporting.decimals.rename({"decimals": "reported"}).filter(pl.col("point").is_not_null())
    everywhere = reporting.decimals.filter(pl.col("point").is_null()).select("property", everywhere="decimals")
    keys = ["set_id", "property", "point", "material"]
    joined = (
        wanted.join(sets, on="set_id", how="left", maintain_order="left")
        .join(planned, on=keys, how="left", nulls_equal=True, maintain_order="left")
        .join(faults, left_on=["set_id", "limit_id"], right_on=["set_id", "subject"], how="left", maintain_order="left")
        .join(there, on=["property", "point"], how="left", maintain_order="left")
        .join(everywhere, on="property", how="left", maintain_order="left")
    )
    # A plan over lots already carries the scatter of the measurement: no guard band on top of it.
    stacked = pl.col("planned").fill_null(value=False) & (pl.col("phase") == Phase.PRODUCTION.value)
    rule = pl.col("decision_rule").fill_null(DecisionRule.SIMPLE.value)
    return joined.with_columns(
        decision_rule=pl.when(stacked).then(pl.lit(DecisionRule.SIMPLE.value)).otherwise(rule),
        guard_factor=pl.col("guard_factor").fill_null(2.0),
        rounding=pl.col("rounding").fill_null(RoundingMethod.ROUNDING.value),
        decimals=pl.coalesce("decimals", "reported", "everywhere", pl.lit(3)),
    )


def _reason(stand_ins: Mapping[str, str]) -> pl.Expr:
    # Figures that rest on a stand-in inherit its flag; they are doubtful, but results.
    stands_in = [(pl.col("property") == name) & codes("flags").list.contains(code) for code, name in stand_ins.items()]
    no_test = pl.any_horizontal(pl.lit(False), *stands_in)
    no_target = (pl.col("basis") == Basis.FROM_TARGET.value) & pl.col("target").is_null()
    excluded = codes("flags").list.set_intersection(codes("excluding_flags"))
    revision = pl.format("revision {}", "revision").fill_null("(not in the register)")
    return (
        pl.when(pl.col("fault").is_not_null())
        .then(pl.format("the specification set is at fault: {}", "fault"))
        .when(pl.col("value").is_null())
        .then(pl.coalesce("withheld", pl.lit("no result: the test is missing")))
        .when(no_test)
        .then(pl.lit("no result: the figure stands in for a test that was not made"))
        .when(no_target)
        .then(pl.format("no target for {} in mix design {} {}", "property", "mix_id", revision))
        .when(excluded.list.len() > 0)
        .then(pl.format("excluded by the specification set: {}", excluded.list.join(", ")))
        .when(pl.col("verdict").is_null())
        .then(pl.format("the rule {} needs the uncertainty of the result, and none is known", "decision_rule"))
    )


def codes(column: str) -> pl.Expr:
    """Return the codes of a column of flags as a list."""
    return pl.col(column).fill_null("").str.split(" ").list.filter(pl.element() != "")
