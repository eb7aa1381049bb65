"""Where the production of each mix stands after each of its results: a state computed from the verdicts.

Source: NJDOT Standard Specifications 2019, 902.02.04.D: acceptance sample out, control sample at once; control out too,
corrective action; control in, acceptance sample at once to confirm; two in a row out, production and shipping stop.
"""

import polars as pl

from schemas.vocabulary import Material, MixState, Phase, Purpose, Verdict

_MIX = ["project_id", "mix_id"]


def events(samples: pl.DataFrame, judged: pl.DataFrame, sets: pl.DataFrame) -> pl.DataFrame:
    """Return the results of each mix in production in order of time, with the state each left the mix in.

    Parameters
    ----------
    samples
        All samples of these mixes, as from `subjects`.
    judged
        Their judgements.
    sets
        `specification_set`; a set without `stop_after_out` has no such rule, and its mixes have no events.

    Returns
    -------
    Rows of `mix_event` without validity. A sample of which nothing was judged is no event; conditional verdicts are
    not out.
    """
    rules = sets.select("set_id", "stop_after_out").drop_nulls()
    failed = pl.col("verdict") == Verdict.FAIL.value
    outcomes = (
        judged.filter(pl.col("verdict") != Verdict.NOT_JUDGED.value)
        .group_by("sample_id")
        .agg(out=failed.any(), failed=pl.col("limit_id").filter(failed).sort().str.join(" "))
    )
    rows = (
        samples.filter(pl.col("phase") == Phase.PRODUCTION.value, pl.col("material") == Material.MIX.value)
        .filter(pl.col("split_of").is_null())
        .join(rules, on="set_id")
        .join(outcomes, on="sample_id")
        .sort(*_MIX, "taken_on", "sample_id")
        .with_columns(
            purpose=pl.col("purpose").fill_null(Purpose.ACCEPTANCE.value),
            failed=pl.col("failed").replace("", None),
            event_no=pl.int_range(1, pl.len() + 1).over(_MIX).cast(pl.Int64),
        )
    )
    return (
        _folded(rows)
        .select(*_MIX, "event_no", "taken_on", "sample_id", "purpose", "out", "failed", "state")
        .sort(*_MIX, "event_no")
    )


def _folded(rows: pl.DataFrame) -> pl.DataFrame:
    """Step through the events, all mixes at once: each state rests on the one before."""
    before = (
        rows.select(_MIX)
        .unique()
        .with_columns(state=pl.lit(MixState.IN_CONTROL.value), acceptance_run=pl.lit(0), control_run=pl.lit(0))
    )
    told = [rows.clear().with_columns(state=pl.lit(None, pl.String))]
    kept = ("state", "acceptance_run", "control_run")
    for step in sorted(rows["event_no"].unique().to_list()):
        now = rows.filter(pl.col("event_no") == step).join(before, on=_MIX)
        after = now.with_columns(_run(Purpose.ACCEPTANCE), _run(Purpose.CONTROL)).with_columns(state=_next())
        told.append(after.select(told[0].columns))
        before = after.select(*_MIX, *kept)
    return pl.concat(told)


def _run(purpose: Purpose) -> pl.Expr:
    """Return how many samples of this purpose are out in a row, this one included."""
    name = f"{purpose.value}_run"
    mine = pl.col("purpose") == purpose.value
    return pl.when(~mine).then(name).when(pl.col("out")).then(pl.col(name) + 1).otherwise(0).alias(name)


def _next() -> pl.Expr:
    state, out = pl.col("state"), pl.col("out")
    acceptance = pl.col("purpose") == Purpose.ACCEPTANCE.value
    run = pl.when(acceptance).then("acceptance_run").otherwise("control_run")
    stopped = out & ((run >= pl.col("stop_after_out")) | (state == MixState.STOPPED.value))

    def among(*words: MixState) -> pl.Expr:
        return state.is_in([word.value for word in words])

    return (
        pl.when(stopped)
        .then(pl.lit(MixState.STOPPED.value))
        .when(out & acceptance & among(MixState.WATCH, MixState.CORRECT))
        .then(pl.lit(MixState.CORRECT.value))
        .when(out & acceptance)
        .then(pl.lit(MixState.CHECK.value))
        .when(out & among(MixState.CHECK, MixState.CORRECT, MixState.CONFIRM))
        .then(pl.lit(MixState.CORRECT.value))
        .when(out)
        .then(pl.lit(MixState.WATCH.value))
        # After a stop one sample in is not enough, whatever it was taken for.
        .when(among(MixState.STOPPED) | (~acceptance & among(MixState.CHECK, MixState.CORRECT, MixState.CONFIRM)))
        .then(pl.lit(MixState.CONFIRM.value))
        .otherwise(pl.lit(MixState.IN_CONTROL.value))
    )
