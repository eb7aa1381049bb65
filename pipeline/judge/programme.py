"""The work list: what is due, missing, late, invalid or doubtful, from verdicts, lots, charts and the register.

Nothing here knows what day it is: an item says since when it stands and on which day it is due.
"""

import polars as pl

from schemas.describe import describe
from schemas.vocabulary import ItemKind, MixState, Outcome, Verdict

_MIX = ["project_id", "mix_id"]

#: Days before the end of a calibration from which it is listed: common practice, a month.
CALIBRATION_LEAD_DAYS = 30


def item(rows: pl.DataFrame, kind: ItemKind, sentence: pl.Expr, remedy: str | pl.Expr) -> pl.DataFrame:
    """Return rows of `programme_item` without validity; columns not given are null."""
    schema = {
        name: dtype for name, dtype in describe("programme_item").schema().items() if not name.startswith("valid_")
    }
    told = rows.with_columns(
        kind=pl.lit(kind.value), sentence=sentence, remedy=pl.lit(remedy) if isinstance(remedy, str) else remedy
    )
    lacking = [pl.lit(None, dtype).alias(name) for name, dtype in schema.items() if name not in told.columns]
    return told.with_columns(lacking).select(pl.col(name).cast(dtype) for name, dtype in schema.items())


def name_of(prop: str = "property", point: str = "point") -> pl.Expr:
    """Return a property with its place, if it has one."""
    place = pl.col(point).cast(pl.String).str.strip_suffix(".0")
    return pl.concat_str(prop, pl.format(" at {}", place), ignore_nulls=True)


def of_results(samples: pl.DataFrame, judged: pl.DataFrame) -> pl.DataFrame:
    """Return required results that are not there, results that must not be judged, and results in doubt."""
    rows = judged.join(
        samples.select("sample_id", *_MIX, "lot", since="taken_on"), on="sample_id", how="inner"
    ).with_columns(subject="limit_id")
    open_ = pl.col("verdict") == Verdict.NOT_JUDGED.value
    missing = rows.filter(open_ & pl.col("value").is_null())
    invalid = rows.filter(open_ & pl.col("value").is_not_null())
    doubt = rows.filter(pl.col("verdict").is_in([Verdict.CONDITIONAL_PASS.value, Verdict.CONDITIONAL_FAIL.value]))
    pct = (pl.col("probability") * 100).round(0).cast(pl.Int64)
    return pl.concat(
        [
            item(
                missing,
                ItemKind.MISSING,
                pl.format("{} of {}: {}", name_of(), "sample_id", "reason"),
                "Make the test, or correct what the reason names; the set requires the result.",
            ),
            item(
                invalid,
                ItemKind.INVALID,
                pl.format("{} of {}: {}", name_of(), "sample_id", "reason"),
                "Repeat the test within the limits of its method, or mend what the reason names.",
            ),
            item(
                doubt,
                ItemKind.IN_DOUBT,
                pl.format(
                    "{} of {} is a {}: it lies within the limits with a probability of {} %",
                    name_of(),
                    "sample_id",
                    pl.col("verdict").str.replace("_", " "),
                    pct,
                ),
                "Test again, or decide by the contract: the result is closer to its limit than its uncertainty.",
            ),
        ]
    )


def of_turn_round(
    samples: pl.DataFrame, judged: pl.DataFrame, sets: pl.DataFrame, tested: pl.DataFrame
) -> pl.DataFrame:
    """Return samples whose required results are still owed, and those whose results came late.

    Parameters
    ----------
    tested
        `sample_id`, `tested_on`: last day of any observation.
    """
    days = pl.duration(days="turn_round_days")
    lacking = judged.filter((pl.col("verdict") == Verdict.NOT_JUDGED.value) & pl.col("value").is_null())
    owed = lacking.group_by("sample_id").agg(pl.col("limit_id").sort().str.join(", ").alias("owed"))
    rows = (
        samples.join(sets.select("set_id", "turn_round_days").drop_nulls(), on="set_id")
        .join(tested, on="sample_id", how="left")
        .join(owed, on="sample_id", how="left")
        .with_columns(due_on=pl.col("taken_on") + days, since="taken_on")
    )
    waiting = rows.filter(pl.col("owed").is_not_null() | pl.col("tested_on").is_null())
    late = rows.filter(pl.col("owed").is_null() & (pl.col("tested_on") > pl.col("due_on")))
    over = (pl.col("tested_on") - pl.col("due_on")).dt.total_days()
    return pl.concat(
        [
            item(
                waiting,
                ItemKind.OVERDUE,
                pl.format(
                    "{} taken on {} owes {}", "sample_id", "taken_on", pl.col("owed").fill_null("all its results")
                ),
                "Finish the tests; the agreed day stands beside.",
            ),
            item(
                late.with_columns(since="tested_on"),
                ItemKind.LATE,
                pl.format("the last test of {} came {} days after the agreed day", "sample_id", over),
                "Nothing to test; tell the client where the contract asks for it.",
            ),
        ]
    )


def of_lots(lots: pl.DataFrame) -> pl.DataFrame:
    """Return retests and removals owed, and results that stand out."""
    rows = lots.with_columns(subject="plan_id")
    beyond = pl.col("beyond_pct").round(2)
    return pl.concat(
        [
            item(
                rows.filter(pl.col("retest") & ~pl.col("removal")),
                ItemKind.RETEST,
                pl.format("lot {} has {} % beyond the limits by {}", "lot", beyond, "plan_id"),
                "Take the further samples the contract allows; the lot is judged anew with them.",
            ),
            item(
                rows.filter("removal"),
                ItemKind.REMOVAL,
                pl.format("lot {} has {} % beyond the limits by {}", "lot", beyond, "plan_id"),
                "The contract's removal threshold is reached: the engineer decides.",
            ),
            item(
                rows.filter(pl.col("outlier").fill_null(value=False)),
                ItemKind.OUTLIER,
                pl.format(
                    "{} stands out in lot {} by {}: {} against {}",
                    "outlier_suspect",
                    "lot",
                    "outlier_test",
                    pl.col("outlier_statistic").round(3),
                    pl.col("outlier_critical").round(3),
                ),
                "Look for the cause; it counts until it is replaced for a reason that is recorded.",
            ),
        ]
    )


def of_use(samples: pl.DataFrame, used: pl.DataFrame, calibrations: pl.DataFrame) -> pl.DataFrame:
    """Return the samples tested on an instrument that had no valid calibration on that day.

    Parameters
    ----------
    used
        `sample_id`, `instrument_id`, `used_on`.
    calibrations
        Current rows of `calibration`.
    """
    dated = calibrations.select("instrument_id", "calibrated_on", "due_on", "outcome").sort("calibrated_on")
    joined = (
        used.drop_nulls()
        .sort("used_on")
        .join_asof(dated, left_on="used_on", right_on="calibrated_on", by="instrument_id", check_sortedness=False)
    )
    none = pl.col("calibrated_on").is_null()
    rejected = pl.col("outcome") == Outcome.REJECTED.value
    lapsed = (
        joined.filter(none | rejected | (pl.col("used_on") > pl.col("due_on")))
        .group_by("sample_id", "instrument_id")
        .agg(
            pl.col("used_on").min(),
            pl.col("due_on").first(),
            pl.col("calibrated_on").first(),
            pl.col("outcome").first(),
        )
        .join(samples.select("sample_id", *_MIX, "lot"), on="sample_id")
        .with_columns(subject="instrument_id", since="used_on")
    )
    why = (
        pl.when(none)
        .then(pl.lit("no calibration is recorded before that day"))
        .when(rejected)
        .then(pl.format("its calibration of {} was rejected", "calibrated_on"))
        .otherwise(pl.format("its calibration ended on {}", "due_on"))
    )
    return item(
        lapsed.with_columns(why=why, due_on=pl.lit(None, pl.Date)),
        ItemKind.LAPSED,
        pl.format("{} was used on {} for {}: {}", "instrument_id", "used_on", "sample_id", "why"),
        "Register the calibration if there was one; otherwise the figures are in doubt: have them looked at.",
    )


def of_calibrations(instruments: pl.DataFrame, calibrations: pl.DataFrame) -> pl.DataFrame:
    """Return the end of the last accepted calibration of every instrument, listed a month ahead."""
    last = (
        calibrations.filter(pl.col("outcome") == Outcome.ACCEPTED.value)
        .group_by("instrument_id")
        .agg(pl.col("due_on").max())
    )
    rows = (
        instruments.select("instrument_id", "kind", "laboratory_id")
        .join(last, on="instrument_id", how="left")
        .rename({"kind": "instrument"})
        .with_columns(subject="instrument_id", since=pl.col("due_on") - pl.duration(days=CALIBRATION_LEAD_DAYS))
    )
    told = (
        pl.when(pl.col("due_on").is_null())
        .then(pl.format("{} ({}, {}) has no accepted calibration", "instrument_id", "instrument", "laboratory_id"))
        .otherwise(
            pl.format(
                "the calibration of {} ({}, {}) ends on {}", "instrument_id", "instrument", "laboratory_id", "due_on"
            )
        )
    )
    return item(rows, ItemKind.CALIBRATION, told, "Calibrate it, and register the calibration.")


def of_register(names: pl.DataFrame) -> pl.DataFrame:
    """Return the samples that records name and the register does not have (`sample_id`)."""
    return item(
        names.select("sample_id").unique(),
        ItemKind.NO_REGISTER,
        pl.format("records name {}, and the register does not have it", "sample_id"),
        "Register the sample, or correct its label at the source and export again.",
    )


def of_states(events: pl.DataFrame, sets: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Return what each mix owes after its last result, with what its contract asks before restart."""
    last = events.group_by(_MIX, maintain_order=True).last().filter(pl.col("state") != MixState.IN_CONTROL.value)
    asked = (
        samples.select("sample_id", "set_id")
        .join(sets.select("set_id", "restart"), on="set_id", how="left")
        .drop("set_id")
    )
    rows = last.join(asked, on="sample_id", how="left").with_columns(subject="state", since="taken_on")
    words = {word.value: word.definition for word in MixState}
    told = pl.col("state").replace_strict(words, return_dtype=pl.String)
    restart = pl.when(pl.col("state") == MixState.STOPPED.value).then("restart")
    return item(
        rows,
        ItemKind.STOP,
        pl.format("{}: {} (last result: {})", "mix_id", told, "sample_id"),
        pl.coalesce(restart, pl.lit("Take the sample that is owed; the state follows from its result.")),
    )


def of_signals(points: pl.DataFrame) -> pl.DataFrame:
    """Return the first signal of each control chart."""
    rows = points.filter("first_signal").with_columns(subject=name_of(), since="taken_on")
    what = pl.concat_str("published", "signals", separator=" ", ignore_nulls=True)
    return item(
        rows,
        ItemKind.SIGNAL,
        pl.format("{} of {} signals first at {}: {}", "subject", "mix_id", "sample_id", what),
        "Look for the cause at the plant and in the laboratory; see the chart.",
    )


def of_biases(comparisons: pl.DataFrame) -> pl.DataFrame:
    """Return the laboratories that differ by more than chance over all their split samples."""
    rows = comparisons.filter(
        pl.col("kind") == "bias", pl.col("period").is_null(), pl.col("verdict") == Verdict.FAIL.value
    ).with_columns(subject=pl.format("{}, {} against {}", name_of(), "first", "second"))
    return item(
        rows,
        ItemKind.BIAS,
        pl.format(
            "{} differs between {} and {} by {} on average ({} pairs, t = {}, p {})",
            name_of(),
            "first",
            "second",
            pl.col("difference").round(4),
            "n_1",
            pl.col("t").round(2),
            # A chance too small for four decimals is not none.
            pl.when(pl.col("t_p") < 0.0001)
            .then(pl.lit("< 0.0001"))
            .otherwise(pl.format("= {}", pl.col("t_p").round(4))),
        ),
        "Find the cause; where the contract says so the agency's results rule until a new comparison passes.",
    )


def of_faults(faults: pl.DataFrame) -> pl.DataFrame:
    """Return the faults of specification sets."""
    return item(
        faults.with_columns(subject=pl.format("{} {}", "set_id", "subject")),
        ItemKind.SET_AT_FAULT,
        pl.format("{}: {}", "subject", "fault"),
        "Correct the card and export it again; `mixledger spec check` shows all faults.",
    )
