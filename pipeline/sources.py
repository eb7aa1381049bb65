"""Where the inputs of formulas come from: figures, columns of records, long series. For lineage forwards."""

import re
from collections.abc import Iterable, Iterator

import polars as pl

from pipeline.derive.revisions import DESIGN
from pipeline.formulas import registry
from pipeline.formulas.model import Curve, Formula, Grain, Mean, Quantity, Table
from pipeline.formulas.registry import Registry
from schemas.describe import ColumnDescription, describe, describe_all
from schemas.units import SUFFIXES
from schemas.vocabulary import LOAD_TESTS, LengthRole, MassRole, Method

#: Method whose instrument writes a long series -> that series: what no column holds was read off it.
_SERIES = {Method.T312: "compaction_height", Method.T324: "wheel_depth", Method.T247: "impact_height"} | dict.fromkeys(
    LOAD_TESTS, "load_point"
)

_MASS, _LENGTH = "mass_", "length_"

#: Masses of a drying series: the last, and those before it.
_DRIED = "mass_oven_container_dried"

#: Endings of what is made of several readings of one role.
_AGGREGATED = re.compile("_(range|n)$")

Row = dict[str, object]


def formula_inputs(known: Registry) -> pl.DataFrame:
    """Return a row per formula and input, in the columns of the warehouse's table `formula_input`.

    An input that is neither a figure nor recorded, such as a choice of the settings, has none.
    """
    rows = [row for route in known.routes for row in _rows(known, route)]
    schema = dict.fromkeys(("formula_version", "property", "route", "input", "kind", "reach"), pl.String)
    places = {"input_method": pl.String, "input_point": pl.Float64}
    read = dict.fromkeys(("record", "column_name", "role"), pl.String)
    return pl.DataFrame(rows, schema={**schema, **places, **read}, orient="row").unique(maintain_order=True)


def _rows(known: Registry, route: Formula | Mean) -> Iterator[Row]:
    own: Row = {
        "formula_version": registry.version(route),
        "property": route.property.name,
        "route": route.route,
    }
    if isinstance(route, Mean):
        yield own | _averaged(route)
    elif not route.by_hand_only:
        for row in _taken(known, route, map(route.column, route.inputs), ()):
            yield own | row


def _averaged(mean: Mean) -> Row:
    method = registry.source_of(mean)[1]
    reach = "lot" if "sample_id" not in mean.over else "specimens"
    return {
        "input": mean.of.name,
        "kind": "figure",
        "reach": reach,
        "input_method": method.value if method else None,
    }


def _taken(known: Registry, formula: Formula, names: Iterable[str], within: tuple[str, ...]) -> Iterator[Row]:
    """Yield the inputs of these names; `within` are the curves already followed."""
    table = registry.table_of(formula)
    for name in names:
        quantity = known.quantity(name)
        curve = _curve(known, table, name)
        if quantity is not None and quantity.picks:
            prop, at = quantity.picks
            yield {"input": prop, "kind": "figure", "reach": "sample", "input_point": at}
        elif curve is not None and curve.name not in within:
            yield {"input": name, "kind": "record", "reach": "specimen", "record": curve.series}
            yield from _taken(known, formula, curve.needs, (*within, curve.name))
        elif (home := known.home(table, name)) is not None and (home, name) in known.nodes:
            reach = "sample" if home[0] in (Grain.SAMPLE, Grain.SAMPLE_SIEVE, Grain.SAMPLE_PASS) else "specimen"
            yield {"input": name, "kind": "figure", "reach": reach}
        elif quantity is not None:
            for row in _read(quantity, formula):
                yield {"input": name, "kind": "record"} | row


def _curve(known: Registry, table: Table, name: str) -> Curve | None:
    curves = [curve for curve in known.curves if name in {each.name for each in curve.gives}]
    return next((curve for curve in curves if curve.table[1] == table[1]), None)


def _read(quantity: Quantity, formula: Formula) -> Iterator[Row]:
    """Yield the columns of records that may hold a quantity, or the long series it is read off."""
    design = next((column for column, (name, _) in DESIGN.items() if name == quantity.name), None)
    columns = list(_columns(quantity.name))
    series = _SERIES.get(quantity.method or Method.T30) or (formula.method and _SERIES.get(formula.method))
    by_role = _by_role(quantity.name)
    if by_role is not None:
        yield by_role
    elif design is not None:
        yield _cell("mix_design", design, "sample")
    elif columns:
        yield from columns
    elif series:
        yield {"reach": "specimen", "record": series}


def _by_role(name: str) -> Row | None:
    """Return where a mass or length stands whose role its name tells; None for other names."""
    mass, length = name.removeprefix(_MASS), _AGGREGATED.sub("", name.removeprefix(_LENGTH))
    if name.startswith(_MASS) and mass.startswith(MassRole.RETAINED.value):
        return _cell("weighing", "mass_g", "specimen") | {"role": MassRole.RETAINED.value}
    if name.startswith(_MASS) and mass in MassRole.values():
        return _cell("weighing", "mass_g", "specimen") | {"role": mass}
    if name.startswith(_DRIED):
        return _cell("drying_weighing", "mass_g", "specimen")
    if name.startswith(_LENGTH) and length in LengthRole.values():
        return _cell("dimension", "length_mm", "specimen") | {"role": length}
    return None


def _columns(name: str) -> Iterator[Row]:
    for each in describe_all():
        if not each.imported or each.ties.storage != "table" or "sample_id" not in each.schema():
            continue
        for column in each.columns:
            if _stem(column) == name:
                yield _cell(each.name, column.name, "specimen" if "specimen_no" in each.schema() else "sample")


def _cell(record: str, column: str, reach: str) -> Row:
    return {"record": describe(record).name, "column_name": column, "reach": reach}


def _stem(column: ColumnDescription) -> str:
    return column.name.removesuffix(SUFFIXES[column.unit]) if column.unit else column.name
