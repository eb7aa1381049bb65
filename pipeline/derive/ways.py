"""One property: a set of columns per route, and the choice among the routes row by row."""

import json
from collections.abc import Collection, Iterable, Sequence
from functools import reduce
from operator import or_

import polars as pl

from pipeline.derive.calibrated import LAPSED, MACHINE
from pipeline.derive.wheel import REDUCTION
from pipeline.formulas import calibration
from pipeline.formulas.model import Check, Formula, Mean, Route
from pipeline.formulas.registry import MASK, Registry
from pipeline.formulas.t324 import PROCEDURES
from pipeline.settings import Results
from schemas.vocabulary import Level

#: What accompanies a figure as `<name>__<aspect>`: reason where withheld, mask of flags, route, specimens that
#: count, their standard deviation, choices as JSON.
ASPECTS: dict[str, pl.DataType] = {
    "why": pl.String(),
    "flags": MASK,
    "route": pl.String(),
    "n": pl.Int64(),
    "spread": pl.Float64(),
    "parameters": pl.String(),
}
#: Aspects that later figures read.
CARRIED = ("why", "flags", "n", "spread")
#: Score of a route that is not due; lower scores are numbers of inputs missing.
_NEVER = 1000
_NOT_FINITE = "the figures give no finite number"


def column_of(formula: Formula, name: str, columns: Collection[str]) -> pl.Expr:
    """Return the column that stands for an input; null throughout where the table has none."""
    column = formula.column(name)
    return pl.col(column) if column in columns else pl.lit(None, pl.Float64)


def mask(checked: Iterable[tuple[Check, tuple[pl.Expr, ...]]], bits: dict[str, int]) -> pl.Expr:
    """Return the bits of the checks that do not hold; what cannot be told (null) counts as held."""
    # The type is said: a bare number would be taken for a narrower one.
    none = pl.lit(0, MASK)
    found = [
        pl.when(~check.kept(*inputs).fill_null(True)).then(pl.lit(bits[check.code], MASK)).otherwise(none)
        for check, inputs in checked
    ]
    return reduce(or_, found, none)


def way_columns(
    route: Route, number: int, registry: Registry, columns: Collection[str], parameters: Results
) -> list[pl.Expr]:
    """Return the columns of one route: `@<number>score` and one per value and aspect."""
    if isinstance(route, Mean):
        found = _of_mean(route, parameters)
    else:
        found = _of_formula(route, registry, columns, parameters)
    return [expression.alias(f"@{number}{name}") for name, expression in found.items()]


def nowhere(name: str) -> list[pl.Expr]:
    """Return value and aspects of a property that no row calls for."""
    aspects = [pl.lit(None, kind).alias(f"{name}__{part}") for part, kind in ASPECTS.items()]
    return [pl.lit(None, pl.Float64).alias(name), *aspects]


def chosen(name: str, ways: Sequence[Route]) -> list[pl.Expr]:
    """Return value and aspects of the property, from the first of the routes that lack least."""
    count = len(ways)
    best = pl.min_horizontal(f"@{number}score" for number in range(count))

    def pick(parts: list[pl.Expr]) -> pl.Expr:
        result = pl.lit(None)
        for number in reversed(range(count)):
            this = (pl.col(f"@{number}score") == best) & (best < _NEVER)
            result = pl.when(this).then(parts[number]).otherwise(result)
        return result

    def aspect(part: str) -> list[pl.Expr]:
        return [pl.col(f"@{number}{part}") for number in range(count)]

    routes = [pl.lit(route.route) for route in ways]
    return [
        pick(aspect("value")).alias(name),
        *(pick(routes if part == "route" else aspect(part)).alias(f"{name}__{part}") for part in ASPECTS),
    ]


def _of_mean(mean: Mean, parameters: Results) -> dict[str, pl.Expr]:
    name = f"{mean.property.name}@{mean.route}"
    value, why = pl.col(name), pl.col(f"{name}__why")
    due = value.is_not_null() | why.is_not_null()
    if mean.material is not None:
        due = due & (pl.col("material") == mean.material.value)
    return {
        "score": _score(due, value.is_null().cast(pl.Int64)),
        "value": value,
        "why": why,
        "flags": pl.col(f"{name}__flags"),
        "n": pl.col(f"{name}__n"),
        "spread": pl.col(f"{name}__spread"),
        "parameters": _stated(_settings(mean, parameters)),
    }


def _of_formula(
    formula: Formula, registry: Registry, columns: Collection[str], parameters: Results
) -> dict[str, pl.Expr]:
    inputs = {name: column_of(formula, name, columns) for name in formula.inputs}
    defaults = dict(formula.defaults)
    filled = [each.fill_null(defaults[name]) if name in defaults else each for name, each in inputs.items()]
    value = formula.expression(*filled)
    needed = [name for name in formula.inputs if name not in defaults]
    missing = pl.sum_horizontal(inputs[name].is_null().cast(pl.Int64) for name in needed)
    checked = [(check, _arguments(formula, check, columns, value)) for check in formula.checks]
    blocked = _blocked(checked)
    why = (
        pl.when(blocked.is_not_null())
        .then(blocked)
        .when(missing > 0)
        .then(_absent(formula, needed, registry, columns))
        .when(~value.is_finite())
        .then(pl.lit(_NOT_FINITE))
    )
    leader = formula.column(formula.leading[0])
    return {
        "score": _score(_due(formula, columns), missing),
        "value": pl.when(blocked.is_null() & (missing == 0) & value.is_finite()).then(value),
        "why": why,
        "flags": mask(checked, registry.bits) | _inherited(formula, columns) | _lapsed(formula, registry, columns),
        "n": _aspect(leader, "n", columns, pl.Int64()),
        "spread": pl.lit(None, pl.Float64),
        "parameters": _told(_choices(formula, inputs, parameters), formula, columns),
    }


def _arguments(formula: Formula, check: Check, columns: Collection[str], value: pl.Expr) -> tuple[pl.Expr, ...]:
    own = formula.property.name
    return tuple(value if name == own else column_of(formula, name, columns) for name in check.inputs)


def _score(due: pl.Expr, missing: pl.Expr) -> pl.Expr:
    return pl.when(due.fill_null(False)).then(missing).otherwise(_NEVER)


def _due(formula: Formula, columns: Collection[str]) -> pl.Expr:
    leads = [formula.column(name) for name in formula.leading]
    present = [pl.col(name).is_not_null() for name in leads if name in columns]
    # A measured figure without a row of its own has a reason too; only a derived one is due because of it.
    present += [pl.col(f"{name}__why").is_not_null() for name in leads if f"{name}__flags" in columns]
    due = reduce(or_, present, pl.lit(False))
    if formula.applies is not None:
        due = due & formula.applies
    if formula.material is not None:
        due = due & (pl.col("material") == formula.material.value)
    return due


def _blocked(checked: list[tuple[Check, tuple[pl.Expr, ...]]]) -> pl.Expr:
    broken = [
        pl.when(~check.kept(*inputs).fill_null(True)).then(pl.lit(f"{check.sentence} ({check.limit_text})"))
        for check, inputs in checked
        if check.effect == "withhold"
    ]
    return pl.coalesce(broken) if broken else pl.lit(None, pl.String)


def _absent(formula: Formula, needed: list[str], registry: Registry, columns: Collection[str]) -> pl.Expr:
    reasons = []
    for name in needed:
        column = formula.column(name)
        told = _aspect(column, "why", columns, pl.String())
        stated = pl.coalesce(told, pl.lit(missing_sentence(registry, column)))
        reasons.append(pl.when(column_of(formula, name, columns).is_null()).then(stated))
    if len(reasons) == 1:
        return reasons[0]
    # Two inputs may lack the same thing: it is said once.
    together = pl.concat_str(reasons, separator="; ", ignore_nulls=True)
    return together.str.split("; ").list.unique(maintain_order=True).list.join("; ")


def missing_sentence(registry: Registry, name: str) -> str:
    """Return the reason given where a figure is missing and nothing more is known."""
    quantity, prop = registry.quantity(name), registry.property(name)
    if quantity is not None:
        return quantity.missing or f"{quantity.title} missing"
    if prop is not None:
        return prop.missing or f"{prop.symbol} missing"
    raise KeyError(name)


def _inherited(formula: Formula, columns: Collection[str]) -> pl.Expr:
    names = [f"{formula.column(name)}__flags" for name in formula.inputs]
    return reduce(or_, (pl.col(name).fill_null(0) for name in names if name in columns), pl.lit(0, MASK))


def _lapsed(formula: Formula, registry: Registry, columns: Collection[str]) -> pl.Expr:
    """Return the flag of figures read on an instrument that was out of calibration."""
    names = [formula.column(name) for name in formula.inputs]
    marks = [f"{name}__{LAPSED}" for name in names]
    if formula.method in calibration.MADE_ON or any(_by_machine(registry, name) for name in names):
        marks.append(MACHINE)
    bit, none = pl.lit(registry.bits[calibration.LAPSED.code], MASK), pl.lit(0, MASK)
    found = [pl.when(pl.col(mark).fill_null(False)).then(bit).otherwise(none) for mark in marks if mark in columns]
    return reduce(or_, found, none)


def _by_machine(registry: Registry, name: str) -> bool:
    quantity = registry.quantity(name)
    return quantity is not None and quantity.grain.level is Level.SPECIMEN and not name.startswith(("mass_", "length_"))


def _aspect(name: str, aspect: str, columns: Collection[str], dtype: pl.DataType) -> pl.Expr:
    column = f"{name}__{aspect}"
    return pl.col(column) if column in columns else pl.lit(None, dtype)


def _settings(route: Route, parameters: Results) -> dict[str, object]:
    known = vars(parameters) | {"wheel_reduction": REDUCTION} | PROCEDURES
    return {name: known[name] for name in route.parameters}


def _stated(choices: dict[str, object]) -> pl.Expr:
    return pl.lit(json.dumps(choices, sort_keys=True) if choices else None, pl.String)


def _choices(formula: Formula, inputs: dict[str, pl.Expr], parameters: Results) -> pl.Expr:
    settings = _settings(formula, parameters)
    if not formula.defaults:
        return _stated(settings)
    parts = {name: pl.lit(f"{json.dumps(name)}: {json.dumps(value)}") for name, value in settings.items()}
    for name, value in formula.defaults:
        parts[name] = pl.when(inputs[name].is_null()).then(pl.lit(f"{json.dumps(name)}: {json.dumps(value)}"))
    told = pl.concat_str([parts[name] for name in sorted(parts)], separator=", ", ignore_nulls=True)
    return pl.when(told != "").then("{" + told + "}")


def _told(choices: pl.Expr, formula: Formula, columns: Collection[str]) -> pl.Expr:
    """Add the figures a formula states, such as the range of a fit, to the choices of each row."""
    names = [name for name in formula.states if name in columns]
    if not names:
        return choices
    figures = [pl.format('"{}": {}', pl.lit(name), pl.col(name).round_sig_figs(7)) for name in names]
    opened = pl.coalesce(choices.str.head(-1), pl.lit("{"))
    return (
        pl.concat_str(opened, *figures, separator=", ", ignore_nulls=True).str.replace("{, ", "{", literal=True) + "}"
    )
