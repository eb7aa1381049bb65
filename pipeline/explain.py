"""A figure -> its equation, standard, inputs and, at the end of every branch, lines of exports."""

import difflib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline import settings
from pipeline.evidence import Evidence, Subject, evidence
from pipeline.formulas import registry
from pipeline.formulas.model import Formula, Grain, Mean, Quantity, Route, Table
from pipeline.formulas.registry import Registry
from pipeline.reporting import with_text
from pipeline.rounding import Rule
from pipeline.workspace import Workspace
from schemas.vocabulary import Level
from warehouse.sql import fetch


class TraceError(ValueError):
    """A figure that does not exist; the message names near ones."""


@dataclass(frozen=True)
class Step:
    """One figure of a trace, with what it rests on."""

    symbol: str
    title: str
    of: str
    value: float | None
    text: str
    unit: str | None
    uncertainty: float | None = None
    equation: str | None = None
    standard: str | None = None
    withheld: str | None = None
    flags: tuple[str, ...] = ()
    parameters: str | None = None
    evidence: tuple[Evidence, ...] = ()
    inputs: tuple["Step", ...] = field(default_factory=tuple)

    def as_dict(self) -> dict[str, Any]:
        """Return the step and all below it as plain values."""
        plain = {key: value for key, value in vars(self).items() if key not in ("inputs", "evidence")}
        lines = [vars(each) for each in self.evidence]
        return plain | {"evidence": lines, "inputs": [each.as_dict() for each in self.inputs]}


def trace(
    connection: DuckDBPyConnection,
    workspace: Workspace,
    sample_id: str,
    name: str,
    at: float | None = None,
    specimen: str | None = None,
) -> Step:
    """Trace a figure of a sample.

    Parameters
    ----------
    connection
        As given by `warehouse.read.connect`.
    name, at
        Property by its registry name, and sieve or passes where it has several values.
    specimen
        Specimen whose figure is meant; by default it is the sample's.

    Raises
    ------
    TraceError
        When the sample has no such figure.
    """
    values = fetch(connection, _VALUES, [sample_id])
    if values.is_empty():
        raise TraceError(_unknown_sample(connection, sample_id))
    choices = settings.load(workspace.root).results
    known = registry.load(choices.limits)
    tracer = _Tracer(connection, workspace, known, with_text(values, Rule(choices.rounding)))
    of_sample = specimen is None and _at_sample_level(values, sample_id, name)
    level = Level.SAMPLE.value if of_sample else Level.SPECIMEN.value
    rows = tracer.find(sample_id=sample_id, level=level, property=name)
    rows = [row for row in rows if specimen in (None, row["specimen_no"])]
    if at is not None:
        rows = [row for row in rows if row["point"] is not None and abs(row["point"] - at) < 1e-9]
    if not rows:
        raise TraceError(_unknown_property(values, sample_id, name, at))
    if len(rows) > 1:
        raise TraceError(_choice(rows, name))
    return tracer.step(rows[0])


#: Figures of the sample and of all that share its project, mix and lot: a core rests on the Gmm of its lot.
_VALUES = """
    select v.*, s.mix_id, s.revision, s.project_id, s.lot, s.material
    from property_value v join samples s using (sample_id)
    where v.valid_to_run is null and (s.project_id, s.mix_id, coalesce(s.lot, '')) in (
        select (project_id, mix_id, coalesce(lot, '')) from samples where sample_id = ?)
    order by v.sample_id, v.level, v.method, v.specimen_no, v.property, v.point
"""


def _at_sample_level(values: pl.DataFrame, sample_id: str, name: str) -> bool:
    same = (pl.col("sample_id") == sample_id) & (pl.col("property") == name) & (pl.col("level") == Level.SAMPLE.value)
    return not values.filter(same).is_empty()


def _unknown_sample(connection: DuckDBPyConnection, sample_id: str) -> str:
    known = fetch(connection, "select distinct sample_id from property_value where valid_to_run is null")
    near = difflib.get_close_matches(sample_id, known["sample_id"].to_list(), n=3)
    hint = f" Near it: {', '.join(near)}." if near else ' `mixledger sql "select sample_id from samples"` lists them.'
    return f"no figure of sample '{sample_id}' in the warehouse.{hint}"


def _unknown_property(values: pl.DataFrame, sample_id: str, name: str, at: float | None) -> str:
    has = values.filter(pl.col("sample_id") == sample_id)["property"].unique().sort().to_list()
    place = f" at {at:g}" if at is not None else ""
    return f"sample '{sample_id}' has no '{name}'{place}. It has: {', '.join(has)}."


def _choice(rows: list[dict[str, Any]], name: str) -> str:
    if rows[0]["level"] == Level.SPECIMEN.value:
        numbers = ", ".join(dict.fromkeys(str(row["specimen_no"]) for row in rows))
        return f"'{name}' of this sample exists per specimen only; name one with --specimen: {numbers}."
    places = ", ".join(f"{row['point']:g}" for row in rows)
    return f"'{name}' has several values; name one with --at: {places}."


@dataclass(frozen=True)
class _Tracer:
    connection: DuckDBPyConnection
    workspace: Workspace
    registry: Registry
    values: pl.DataFrame

    def find(self, **wanted: object) -> list[dict[str, Any]]:
        conditions = [pl.col(name).eq_missing(pl.lit(value)) for name, value in wanted.items()]
        return self.values.filter(conditions).to_dicts()

    def step(self, row: dict[str, Any]) -> Step:
        prop = self.registry.property(row["property"])
        route = self._route(row)
        shown = Step(
            symbol=prop.symbol if prop else row["property"],
            title=prop.title if prop else "",
            of=_of(row),
            value=row["value"],
            text=row["text"] or "none",
            unit=prop.unit if prop else None,
            uncertainty=row["uncertainty"],
            withheld=row["withheld"],
            flags=tuple((row["flags"] or "").split()),
            parameters=row["parameters"],
        )
        if route is None:
            return shown
        inputs = self._averaged(route, row) if isinstance(route, Mean) else self._taken(route, row)
        standard = ", ".join(filter(None, (route.standard, route.section)))
        return replace(shown, equation=route.equation, standard=standard, inputs=tuple(inputs))

    def _route(self, row: dict[str, Any]) -> Route | None:
        stated = (route for route in self.registry.routes if registry.version(route) == row["formula_version"])
        return next(stated, None)

    def _averaged(self, mean: Mean, row: dict[str, Any]) -> Iterator[Step]:
        same = {name: row[name] for name in mean.over if name in row}
        if mean.of_grain.at:
            same["point"] = row["point"]
        material = mean.of_material or mean.material
        if material is not None:
            same["material"] = material.value
        found = self.find(property=mean.of.name, level=mean.of_grain.level.value, **same)
        yield from map(self.step, _of_table(found, registry.source_of(mean)))

    def _taken(self, formula: Formula, row: dict[str, Any]) -> Iterator[Step]:
        table = registry.table_of(formula)
        for name in formula.inputs:
            column = formula.column(name)
            quantity = self.registry.quantity(column)
            home = self.registry.home(table, column)
            if quantity is not None and quantity.picks:
                prop, at = quantity.picks
                sample = {"sample_id": row["sample_id"], "level": Level.SAMPLE.value}
                yield from map(self.step, self.find(property=prop, point=at, **sample))
            elif home is not None and (home, column) in self.registry.nodes:
                yield from map(self.step, _of_table(self._figures(home[0], column, row), home))
            elif quantity is not None:
                yield self._measured(quantity, row)

    def _figures(self, grain: Grain, name: str, row: dict[str, Any]) -> list[dict[str, Any]]:
        wanted: dict[str, object] = {"sample_id": row["sample_id"], "level": grain.level.value, "property": name}
        if grain.level is Level.SPECIMEN:
            wanted["specimen_no"] = row["specimen_no"]
        if grain.at:
            wanted["point"] = row["point"]
        return self.find(**wanted)

    def _measured(self, quantity: Quantity, row: dict[str, Any]) -> Step:
        method = _weighed_for(row["method"])
        subject = Subject(row["sample_id"], row["mix_id"], row["revision"], row["specimen_no"], method, row["point"])
        found = evidence(self.connection, self.workspace, quantity, subject)
        step = Step(
            symbol=quantity.symbol,
            title=quantity.title,
            of=_of(row),
            value=None,
            text="" if found else "not recorded",
            unit=quantity.unit,
            evidence=tuple(found),
        )
        curve = next((each for each in self.registry.curves if quantity in each.gives), None)
        if curve is None:
            return step
        text = step.text and f"found in the series '{curve.series}'"
        standard = ", ".join(filter(None, (curve.standard, curve.section)))
        return replace(step, text=text, equation=curve.procedure, standard=standard)


def _of_table(rows: list[dict[str, Any]], table: Table) -> list[dict[str, Any]]:
    """Leave out specimens of other methods: several methods may number theirs from 1, and give the same property."""
    return [row for row in rows if table[1] is None or _weighed_for(row["method"]) == table[1].value]


def _weighed_for(method: str | None) -> str | None:
    from pipeline.formulas.model import family
    from schemas.vocabulary import Method

    return family(Method(method)).value if method else None


def _of(row: dict[str, Any]) -> str:
    place = f" at {row['point']:g}" if row["point"] is not None else ""
    specimen = f", specimen {row['specimen_no']}" if row["specimen_no"] else ""
    return f"sample {row['sample_id']}{specimen}{place}"
