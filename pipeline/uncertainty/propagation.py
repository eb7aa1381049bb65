"""The law of propagation of uncertainty (JCGM 100) for any function of numbers, sensitivities taken numerically."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import product
from math import inf, sqrt

Function = Callable[[Mapping[str, float]], float]
#: Step of a central difference, as a share of the input's standard uncertainty.
STEP = 0.01


@dataclass(frozen=True)
class Propagated:
    """A value with its standard uncertainty.

    Attributes
    ----------
    value, standard
        The function's value, and its combined standard uncertainty.
    sensitivities
        Input -> partial derivative.
    contributions
        Input -> sensitivity times standard uncertainty, with its sign.
    degrees_of_freedom
        Effective ones by the Welch-Satterthwaite formula; infinite where every input's are.
    second_order
        Standard uncertainty of the terms of second order alone; zero unless asked for.
    """

    value: float
    standard: float
    sensitivities: Mapping[str, float]
    contributions: Mapping[str, float]
    degrees_of_freedom: float = inf
    second_order: float = 0.0


@dataclass(frozen=True)
class Inputs:
    """Values with standard uncertainties (inputs without one are exact), correlations and degrees of freedom.

    `correlations` maps pairs of names, in either order, to -1 … 1. `degrees_of_freedom` are infinite where not given.
    """

    values: Mapping[str, float]
    uncertainties: Mapping[str, float]
    correlations: Mapping[tuple[str, str], float] = field(default_factory=dict)
    degrees_of_freedom: Mapping[str, float] = field(default_factory=dict)


def propagate(function: Function, inputs: Inputs, *, second_order: bool = False) -> Propagated:
    """Combine the uncertainties of the inputs of a function.

    Parameters
    ----------
    function
        Any function of a mapping of names to numbers.
    inputs
        Values and what is known of their uncertainty.
    second_order
        Whether to add the terms of second order (JCGM 100, 5.1.2, note), for independent inputs.

    Raises
    ------
    ValueError
        When an uncertainty is negative, belongs to no value, or a correlation is not within -1 and 1.
    """
    _check(inputs)
    uncertain = {name: u for name, u in inputs.uncertainties.items() if u > 0}
    slopes = {name: _slope(function, inputs.values, name, STEP * u) for name, u in uncertain.items()}
    parts = {name: slopes[name] * u for name, u in uncertain.items()}
    variance = _variance(parts, parts, inputs.correlations)
    further = _second_order(function, inputs.values, uncertain) if second_order else 0.0
    return Propagated(
        value=function(inputs.values),
        standard=sqrt(max(variance + further, 0.0)),
        sensitivities=slopes,
        contributions=parts,
        degrees_of_freedom=_effective(variance, parts, inputs.degrees_of_freedom),
        second_order=sqrt(max(further, 0.0)),
    )


def covariance(
    first: Propagated, second: Propagated, correlations: Mapping[tuple[str, str], float] | None = None
) -> float:
    """Return the covariance of two figures that rest on the same inputs."""
    return _variance(first.contributions, second.contributions, correlations or {})


def _check(inputs: Inputs) -> None:
    for name, u in inputs.uncertainties.items():
        if name not in inputs.values:
            raise ValueError(f"an uncertainty of '{name}' is given, but no value")
        if not 0 <= u < inf:
            raise ValueError(f"the uncertainty of '{name}' must be a number from 0 up, not {u}")
    for pair, r in inputs.correlations.items():
        if not -1 <= r <= 1:
            raise ValueError(f"the correlation of {' and '.join(pair)} must be within -1 and 1, not {r}")


def _slope(function: Function, values: Mapping[str, float], name: str, step: float) -> float:
    above = function({**values, name: values[name] + step})
    below = function({**values, name: values[name] - step})
    return (above - below) / (2 * step)


def _variance(
    first: Mapping[str, float], second: Mapping[str, float], correlations: Mapping[tuple[str, str], float]
) -> float:
    total = sum(part * second.get(name, 0.0) for name, part in first.items())
    for (one, other), r in correlations.items():
        total += r * (first.get(one, 0.0) * second.get(other, 0.0) + first.get(other, 0.0) * second.get(one, 0.0))
    return total


def _effective(variance: float, parts: Mapping[str, float], degrees: Mapping[str, float]) -> float:
    below = sum(part**4 / degrees[name] for name, part in parts.items() if name in degrees)
    return variance**2 / below if below > 0 else inf


def _second_order(function: Function, values: Mapping[str, float], uncertain: Mapping[str, float]) -> float:
    """Return the terms ½ (∂²f/∂x∂y)² + ∂f/∂x · ∂³f/∂x∂y², times u(x)² u(y)², over all pairs."""
    total = 0.0
    for (x, ux), (y, uy) in product(uncertain.items(), repeat=2):

        def slope_at(offset: float, x: str = x, y: str = y, ux: float = ux) -> float:
            return _slope(function, {**values, y: values[y] + offset}, x, ux)

        # Whole uncertainties as steps: the second differences of a small step drown in rounding.
        above, here, below = slope_at(uy), slope_at(0.0), slope_at(-uy)
        mixed, third = (above - below) / (2 * uy), (above - 2 * here + below) / uy**2
        total += (mixed**2 / 2 + here * third) * ux**2 * uy**2
    return total
