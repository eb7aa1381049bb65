"""The registry proves what formulas declare, and names what is wrong."""

import subprocess
import sys
from dataclasses import replace

import polars as pl
import pytest

from pipeline.derive import engine
from pipeline.derive.tables import Prepared
from pipeline.formulas import registry
from pipeline.formulas.model import Check, Curve, Formula, Grain, Property, Quantity
from pipeline.formulas.t166 import GMB_SURFACE_DRY
from pipeline.settings import Results
from schemas.units import SUFFIXES
from schemas.vocabulary import Method


def made(name: str, inputs: tuple[str, ...], **given: object) -> Formula:
    """Return a formula that adds up its inputs, at sample grain."""
    base = {
        "property": Property(name, name.upper(), f"property {name}", None, 1),
        "grain": Grain.SAMPLE,
        "route": "sum",
        "standard": "none",
        "section": "",
        "equation": " + ".join(inputs),
        "inputs": inputs,
        "expression": lambda *each: sum(each[1:], start=each[0] * 1),
    }
    return Formula(**(base | given))  # type: ignore[arg-type]


X = Quantity("x", "x", "x", None, Grain.SAMPLE)


def test_every_formula_runs_on_its_declared_inputs_only() -> None:
    catalogue = registry.load()
    assert len(catalogue.formulas) >= 25
    for formula in catalogue.formulas:
        expression = formula.expression(*(pl.col(name) for name in formula.inputs))
        assert set(expression.meta.root_names()) == set(formula.inputs), registry.label(formula)


def test_an_undeclared_input_is_named() -> None:
    cheat = made("a", ("x",), expression=lambda x: x + pl.col("y"))
    with pytest.raises(registry.RegistryError, match=r"a \(sample, sum\): declares \['x'\] but reads \['x', 'y'\]"):
        registry.build([cheat, X])


def test_reading_columns_by_pattern_is_found_out() -> None:
    cheat = made("a", ("x",), expression=lambda x: x + pl.all())
    with pytest.raises(registry.RegistryError, match="reads columns by pattern"):
        registry.build([cheat, X])


def test_a_cycle_is_named_by_its_members() -> None:
    ring = [made("a", ("b",)), made("b", ("c",)), made("c", ("a",))]
    with pytest.raises(registry.RegistryError) as refused:
        registry.build(ring)
    assert {"a", "b", "c"} <= set(
        str(refused.value).removeprefix("these properties rest on each other: ").split(" -> ")
    )


def test_a_formula_stated_twice_is_refused() -> None:
    with pytest.raises(registry.RegistryError, match=r"a \(sample, sum\): stated twice"):
        registry.build([made("a", ("x",)), made("a", ("x",)), X])


def test_an_input_out_of_reach_is_named() -> None:
    with pytest.raises(registry.RegistryError, match="no table within reach holds 'y'"):
        registry.build([made("a", ("y",))])


def test_a_code_has_one_meaning() -> None:
    one = Check("odd", "it is odd", ("x",), lambda x: x > 0, "above 0", "none")
    other = replace(one, sentence="it is something else")
    with pytest.raises(registry.RegistryError, match="two effects or two sentences"):
        registry.build([made("a", ("x",), checks=(one,)), made("b", ("x",), checks=(other,)), X])


def test_everything_a_property_rests_on_is_derived_before_it() -> None:
    catalogue = registry.load()
    done: set[tuple[object, str]] = set()
    for generation in catalogue.order:
        for step in generation:
            names = (
                step.needs if isinstance(step, Curve) else [n for each in step.routes for n in registry.required(each)]
            )
            for name in names:
                home = catalogue.home(step.table, name)
                assert home is None or (home, name) not in catalogue.nodes or (home, name) in done
        done |= {(step.table, step.property.name) for step in generation if not isinstance(step, Curve)}
    assert done == set(catalogue.nodes)


def test_a_curve_runs_after_what_it_needs_and_before_what_reads_it() -> None:
    """The lowest height of a series, found by a procedure, is an input like any other."""
    table = (Grain.SPECIMEN, Method.T166)
    lowest = Quantity("lowest", "low", "lowest height", "mm", Grain.SPECIMEN, Method.T166)

    def find(series: pl.DataFrame, specimens: pl.DataFrame, choices: Results) -> pl.DataFrame:
        assert specimens.columns == ["sample_id", "specimen_no", "a"]
        keys = ["sample_id", "specimen_no"]
        return series.group_by(keys).agg(pl.col("height").min().alias("lowest"))

    curve = Curve("lowest", table, (lowest,), "none", "", "the least height", "compaction_height", find, needs=("a",))
    here = {"grain": Grain.SPECIMEN, "method": Method.T166}
    x = replace(X, grain=Grain.SPECIMEN)
    catalogue = registry.build([made("a", ("x",), **here), made("b", ("lowest",), **here), x, curve])
    assert [getattr(step, "name", None) or step.property.name for (step,) in catalogue.order] == ["a", "lowest", "b"]
    keys = {"sample_id": ["s", "s"], "specimen_no": ["1", "2"]}
    specimens = pl.DataFrame(keys | {"x": [1.0, 2.0], "material": ["mix"] * 2})
    series = pl.DataFrame({"sample_id": ["s"] * 2, "specimen_no": ["1"] * 2, "height": [120.0, 115.0]})
    frames = engine.run(Prepared({table: specimens}, {"compaction_height": series}), catalogue, Results())
    assert frames[table]["b"].to_list() == [115.0, None]


def test_version_changes_with_the_declaration_only() -> None:
    version = registry.version(GMB_SURFACE_DRY)
    assert registry.version(replace(GMB_SURFACE_DRY)) == version
    rounded = replace(GMB_SURFACE_DRY, property=replace(GMB_SURFACE_DRY.property, decimals=2))
    other = replace(GMB_SURFACE_DRY, expression=lambda a, b, c: a / (b - c) * 1.0001)
    stricter = replace(GMB_SURFACE_DRY, checks=GMB_SURFACE_DRY.checks[1:])
    assert len({version, *map(registry.version, (rounded, other, stricter))}) == 4


def test_version_is_the_same_in_another_process() -> None:
    code = (
        "from pipeline.formulas import registry\nprint(*[registry.version(route) for route in registry.load().routes])"
    )
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert printed == [registry.version(route) for route in registry.load().routes]


def test_catalogues_are_complete_and_unique() -> None:
    catalogue = registry.load()
    properties, flags, columns = catalogue.properties(), catalogue.flags(), catalogue.wide_columns()
    assert properties["property"].is_unique().all()
    assert flags["code"].is_unique().all()
    assert columns["column_name"].is_unique().all()
    assert properties.select(pl.exclude("unit", "section")).null_count().sum_horizontal().item() == 0
    assert flags.null_count().sum_horizontal().item() == 0
    assert set(flags["code"]) == set(catalogue.bits)


def test_wide_columns_carry_the_suffix_of_their_unit() -> None:
    names = registry.load().wide_columns()
    expected = {
        "air_voids_pct",
        "vma_pct",
        "gmb",
        "rut_depth_10000_mm",
        "passing_0_075_pct",
        "relative_density_n_design_pct",
    }
    assert expected <= set(names["column_name"])
    for unit, name in names.select("unit", "column_name").iter_rows():
        assert name.endswith(SUFFIXES[unit]) if unit else not name.endswith(tuple(SUFFIXES.values()))


def test_decimals_differ_at_the_finest_sieve() -> None:
    decimals = registry.load().decimals().filter(pl.col("property") == "passing")
    assert decimals.rows() == [("passing", None, 0), ("passing", 0.075, 1)]


def test_press_and_balance_share_their_specimens() -> None:
    catalogue = registry.load()
    table = (Grain.SPECIMEN, Method.T166)
    assert catalogue.home(table, "height_final") == table
    assert catalogue.home(table, "gsb") == (Grain.SAMPLE, None)


def test_formulas_load_no_database_and_no_statistics() -> None:
    code = (
        "import sys\nimport pipeline.formulas.registry as r\nr.load()\n"
        "print(*[name for name in ('duckdb', 'scipy', 'pandera') if name in sys.modules])"
    )
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert printed == []
