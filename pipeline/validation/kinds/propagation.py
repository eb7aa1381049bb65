"""Uncertainty of an equation: value, standard uncertainty, contributions and degrees of freedom."""

from collections.abc import Iterator, Mapping
from math import trunc
from typing import Any

import polars as pl

from pipeline.uncertainty.propagation import Function, Inputs, Propagated, propagate
from pipeline.validation.model import Entry, Finding, compared, text

_WAY = "law of propagation"


def check(entry: Entry) -> Iterator[Finding]:
    """Yield each figure the entry states: [published, tolerance], or by input for `contributions`."""
    inputs = Inputs(entry["inputs"], entry["uncertainties"], {}, entry.get("degrees_of_freedom", {}))
    found = propagate(function(entry["equation"]), inputs)
    given: dict[str, Any] = {
        "inputs": f"{entry['equation']}; {text(entry['inputs'])}; u {text(entry['uncertainties'])}"
    }
    for subject, value in _figures(entry, found):
        published, tolerance = entry[subject]
        yield compared(entry, _WAY, value, published, tolerance, subject=subject.replace("_", " "), **given)
    for name, (published, tolerance) in entry.get("contributions", {}).items():
        value = found.contributions[name]
        yield compared(entry, _WAY, value, published, tolerance, subject=f"contribution of {name}", **given)


def function(equation: str) -> Function:
    """Return the function an equation stands for, over its names."""
    expression = pl.sql_expr(equation)

    def value(values: Mapping[str, float]) -> float:
        row = pl.DataFrame({name: [float(number)] for name, number in values.items()})
        return float(row.select(expression).item())

    return value


def _figures(entry: Entry, found: Propagated) -> Iterator[tuple[str, float]]:
    yield "value", found.value
    yield "standard_uncertainty", found.standard
    if "effective_degrees" in entry:
        # Truncated, as JCGM 100 (G.6.4) does before it looks up t.
        yield "effective_degrees", trunc(found.degrees_of_freedom)
    if "expanded" in entry:
        yield "expanded", entry["coverage_factor"] * found.standard
    if "with_second_order" in entry:
        inputs = Inputs(entry["inputs"], entry["uncertainties"])
        yield "with_second_order", propagate(function(entry["equation"]), inputs, second_order=True).standard
