"""Density of water by temperature, after Kell (1975)."""

import polars as pl

#: Coefficients of the density of air-free water at one atmosphere, kg/m³ over °C: numerator, denominator
#: (G. S. Kell, J. Chem. Eng. Data 20, 1975; from memory). They give 997.045 kg/m³ at 25 °C.
_NUMERATOR = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_DENOMINATOR = (1.0, 16.879850e-3)


def density(temperature: pl.Expr) -> pl.Expr:
    """Return the density of water in kg/m³ at a temperature in °C (0 to 100)."""
    return _polynomial(_NUMERATOR, temperature) / _polynomial(_DENOMINATOR, temperature)


def ratio_to_25(temperature: pl.Expr) -> pl.Expr:
    """Return R, the density of water at a temperature in °C over that at 25 °C."""
    # Multiplied, for polars divides a long column by a constant through its reciprocal, and a single row truly.
    at_25 = _number(_NUMERATOR, 25.0) / _number(_DENOMINATOR, 25.0)
    return density(temperature) * (1 / at_25)


def _number(coefficients: tuple[float, ...], x: float) -> float:
    return sum(coefficient * x**power for power, coefficient in enumerate(coefficients))


def _polynomial(coefficients: tuple[float, ...], x: pl.Expr) -> pl.Expr:
    # Horner's rule: one multiplication per degree.
    result: pl.Expr = pl.lit(coefficients[-1])
    for coefficient in reversed(coefficients[:-1]):
        result = result * x + coefficient
    return result
