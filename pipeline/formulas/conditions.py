"""Conditions over a figure and the bounds of a check, noise of the last bit apart."""

import polars as pl

_NOISE = 1e-9


def near(found: pl.Expr, target: float, tolerance: float) -> pl.Expr:
    """Return whether a figure lies within a tolerance of its target."""
    return (found - target).abs() <= tolerance + _NOISE


def within(found: pl.Expr, low: float, high: float) -> pl.Expr:
    """Return whether a figure lies from one bound to the other."""
    return found.is_between(low - _NOISE, high + _NOISE)


def at_least(found: pl.Expr, least: float) -> pl.Expr:
    """Return whether a figure reaches its least value."""
    return found >= least - _NOISE


def at_most(found: pl.Expr, most: float) -> pl.Expr:
    """Return whether a figure keeps to its largest value."""
    return found <= most + _NOISE
