"""A calibration line by least squares: its parameters' uncertainties by propagation from the residual scatter."""

from collections.abc import Iterator, Mapping, Sequence
from math import sqrt
from typing import Any

from pipeline.uncertainty.propagation import Function, Inputs, covariance, propagate
from pipeline.validation.model import Entry, Finding, compared

_WAY = "law of propagation"


def check(entry: Entry) -> Iterator[Finding]:
    """Yield intercept and slope with uncertainties, their correlation, the squares, and a value off the line."""
    places = [t - entry["reference"] for t in entry["t"]]
    readings = {f"b{number}": float(b) for number, b in enumerate(entry["b"])}
    intercept, slope = _line(places, 0.0), _slope(places)
    residuals = [b - intercept(readings) - slope(readings) * x for b, x in zip(readings.values(), places, strict=True)]
    squares = sum(each**2 for each in residuals)
    inputs = Inputs(readings, dict.fromkeys(readings, sqrt(squares / (len(places) - 2))))
    first, second = propagate(intercept, inputs), propagate(slope, inputs)
    off = propagate(_line(places, entry["predicted_at"] - entry["reference"]), inputs)
    figures = {
        "intercept": first.value,
        "intercept_uncertainty": first.standard,
        "slope": second.value,
        "slope_uncertainty": second.standard,
        "correlation": covariance(first, second) / (first.standard * second.standard),
        "squares": squares,
        "predicted": off.value,
        "predicted_uncertainty": off.standard,
    }
    given: dict[str, Any] = {"inputs": f"{len(places)} readings, reference {entry['reference']:g}"}
    for subject, value in figures.items():
        published, tolerance = entry[subject]
        yield compared(entry, _WAY, value, published, tolerance, subject=subject.replace("_", " "), **given)


def _slope(places: Sequence[float]) -> Function:
    middle = sum(places) / len(places)
    below = sum((x - middle) ** 2 for x in places)

    def slope(readings: Mapping[str, float]) -> float:
        return sum((x - middle) * b for x, b in zip(places, readings.values(), strict=True)) / below

    return slope


def _line(places: Sequence[float], at: float) -> Function:
    middle, slope = sum(places) / len(places), _slope(places)

    def line(readings: Mapping[str, float]) -> float:
        return sum(readings.values()) / len(places) + slope(readings) * (at - middle)

    return line
