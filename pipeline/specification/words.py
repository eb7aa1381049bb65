"""A specification set in words, line by line."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.formulas import registry
from pipeline.specification.reading import Card
from schemas.vocabulary import Basis, CompositeRule, DecisionRule, FreedomForm, LimitUse, LookUp, RoundingMethod

Row = dict[str, Any]

_WORDS = (DecisionRule, RoundingMethod, LookUp, FreedomForm, CompositeRule)


def told(card: Card) -> list[str]:
    """Return the lines that explain the set, its faults last."""
    contract = card.contract
    lines: list[str] = []
    for row in contract.sets.iter_rows(named=True):
        lines += _head(row)
    lines += _assigned(card.assignments)
    lines += _section("Limits on single results", contract.limits, _limit)
    lines += _section("Acceptance of lots", contract.plans, _plan)
    own = contract.pieces.filter(pl.col("set_id").is_not_null())
    lines += _section("Pay equations of the set", own, _piece)
    lines += _section("Precision of duplicates and partners", contract.precision, _precision)
    return lines


def faults(card: Card) -> list[str]:
    """Return a line per thing that is wrong, with what to do."""
    lines = [*card.refused, *card.unknown]
    lines += [f"{row['subject']}: {row['fault']}" for row in card.contract.faults.iter_rows(named=True)]
    return lines


def _head(row: Row) -> Iterator[str]:
    version = f", version {row['set_version']}" if row["set_version"] else ""
    yield f"{row['set_id']}{version}: {row['title'] or 'no title'}"
    if row["agency"]:
        yield f"  of {row['agency']}, {_since(row['valid_from'])}"
    rule = DecisionRule(row["decision_rule"] or "simple")
    guard = (
        ""
        if rule is DecisionRule.SIMPLE
        else f"; the guard band is {row['guard_factor'] or 2:g} standard uncertainties"
    )
    yield f"  single results: {rule.definition}{guard}"
    yield f"  against a limit: {RoundingMethod(row['rounding'] or 'rounding').definition}"
    sentences = {
        "stop_days": "start-up is due again after a stop in production of more than {} days",
        "stop_after_out": "{} acceptance or control samples out in a row stop production",
        "restart": "before production goes on: {}",
        "turn_round_days": "results are due {} days after sampling",
        "sample_every_t": "one sample for every {:g} t",
        "lot_size_t": "a lot is {:g} t",
        "sublot_size_t": "a sublot is {:g} t",
        "edge_m": "no core within {:g} m of an edge",
        "significance": "comparisons at a significance of {:g}",
        "run_of": "{} results in a row on one side of the centre are a signal",
    }
    for name, sentence in sentences.items():
        if row[name] is not None:
            yield "  " + sentence.format(row[name])
    for name in ("freedom_form", "composite"):
        for words in _WORDS:
            if row[name] in words.values():
                yield f"  {name.replace('_', ' ')}: {words(row[name]).definition}"
    if row["source"]:
        yield f"  source: {_source(row)}"


def _since(day: object) -> str:
    return f"holds from {day}" if day else "holds from the beginning"


def _assigned(rows: pl.DataFrame) -> Iterator[str]:
    for row in rows.iter_rows(named=True):
        mix = f"mix {row['mix_id']}" if row["mix_id"] else "every mix"
        until = f" to {row['valid_until']}" if row["valid_until"] else ""
        yield f"  assigned to project {row['project_id']}, {mix}, {_since(row['valid_from'])}{until}"


def _section(title: str, rows: pl.DataFrame, line: Any) -> Iterator[str]:
    if rows.height:
        yield ""
        yield f"{title}:"
        for row in rows.iter_rows(named=True):
            yield f"  {line(row)}"


def name_of(row: Row) -> str:
    """Return a property in words with its symbol and place."""
    found = registry.load().property(row["property"])
    if found is None:
        return f"'{row['property']}' (unknown)"
    unit = "mm" if found.at == "sieve_mm" else (found.at or "")
    place = f" at {row['point']:g} {unit}" if row.get("point") is not None else ""
    return f"{found.title} ({found.symbol}){place}"


def range_of(row: Row) -> str:
    """Return limits in words, with unit."""
    found = registry.load().property(row["property"])
    unit = f" {found.unit}" if found and found.unit else ""
    lower, upper = row["lower"], row["upper"]
    if row["basis"] == Basis.FROM_TARGET.value:
        sides = [f"{value:+g}" for value in (lower, upper) if value is not None]
        return f"target {' / '.join(sides)}{unit}" if sides else "no limit"
    if lower is not None and upper is not None:
        return f"{lower:g} to {upper:g}{unit}"
    if lower is not None:
        return f"at least {lower:g}{unit}"
    return f"at most {upper:g}{unit}" if upper is not None else "no limit"


def _source(row: Row) -> str:
    return f"{row['source']} ({row['mark']})" if row["mark"] else str(row["source"])


def _limit(row: Row) -> str:
    conditions = [
        f"{label} {row[name]:g}" if isinstance(row[name], float) else f"{label} {row[name]}"
        for name, label in (
            ("phase", "phase"),
            ("nmas_mm", "NMAS"),
            ("traffic", "traffic"),
            ("layer", "layer"),
            ("binder_grade", "binder"),
        )
        if row[name] is not None
    ]
    parts = [f"{row['limit_id']}: {name_of(row)} of {row['material']}, {range_of(row)}"]
    parts += [f"for {', '.join(conditions)}"] if conditions else []
    clips = [
        f"{side[5:]} no further than {row[side]:g}" for side in ("clip_lower", "clip_upper") if row[side] is not None
    ]
    parts += [f"clipped: {', '.join(clips)}"] if clips else []
    use = LimitUse(row["use"] or "acceptance")
    parts += [use.definition] if use is not LimitUse.ACCEPTANCE else []
    parts += [f"mean of the last {row['average_of']}"] if row["average_of"] else []
    parts += ["a sample without it is listed as missing it"] if row["required"] else []
    parts += [f"not judged when flagged {row['excluding_flags']}"] if row["excluding_flags"] else []
    return f"{'; '.join(parts)} [{_source(row)}]"


def _plan(row: Row) -> str:
    parts = [f"{row['plan_id']}: {name_of(row)} of {row['material']}, {range_of(row)}"]
    parts.append(f"percentage {LookUp(row['look_up'] or 'closed_form').definition}")
    parts += [f"target of deviations {row['target']:g}"] if row["target"] is not None else []
    for name, label in (("equation", "pay by"), ("one_result", "one result:"), ("two_results", "two results:")):
        parts += [f"{label} {row[name]}"] if row[name] else []
    parts += [f"weight {row['weight']:g}"] if row["weight"] is not None else []
    for name, label in (("screen", "outliers are looked for"), ("retest", "retest"), ("removal", "removal")):
        value = row[f"{name}_from_pct"]
        parts += [f"{label} from {value:g} % beyond the limits"] if value is not None else []
    return f"{'; '.join(parts)} [{_source(row)}]"


def _piece(row: Row) -> str:
    bounds = {"at_least": "from", "above": "above", "at_most": "up to", "below": "below"}
    where = " ".join(f"{word} {row[name]:g}" for name, word in bounds.items() if row[name] is not None) or "everywhere"
    line = f"{row['intercept']:g} {row['slope']:+g} × {row['measure']}" if row["slope"] else f"{row['intercept']:g}"
    follows = f"; {row['consequence']}" if row["consequence"] else ""
    return f"{row['equation']} {where}: {line} as {row['form']}{follows} [{_source(row)}]"


def _precision(row: Row) -> str:
    stated = {"single_operator": "one operator", "multilaboratory": "between laboratories"}
    parts = [f"{words} s = {row[name]:g}" for name, words in stated.items() if row[name] is not None]
    return f"{name_of(row)}: {', '.join(parts)}; two results may differ by 2√2 s [{_source(row)}]"
