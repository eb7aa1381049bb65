"""The numbers of the checks: listed by name, and replaced by those of the settings."""

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from pipeline.formulas.model import Bound, Check, Formula, Mean
from pipeline.settings import FILE_NAME, SettingsError


class TwoValuesError(ValueError):
    """Two checks give one bound different values; the message names it."""


def listed(checks: Iterable[Check]) -> dict[str, list[Check]]:
    """Return name -> the checks that rest on the bound of that name, in the order of the checks.

    Raises
    ------
    TwoValuesError
        When a name stands for two values.
    """
    values: dict[str, float] = {}
    found: dict[str, list[Check]] = {}
    for check in checks:
        for bound in check.bounds:
            if values.setdefault(bound.name, bound.value) != bound.value:
                raise TwoValuesError(f"the bound '{bound.name}' is stated with two values")
            found.setdefault(bound.name, []).append(check)
    return found


def replaced(declared: Iterable[object], limits: Mapping[str, float]) -> Iterator[object]:
    """Yield the declarations with the bounds that the settings replace.

    Raises
    ------
    SettingsError
        When the settings name a bound that no check has.
    """
    stated = list(declared)
    known = listed(check for each in stated if isinstance(each, Formula | Mean) for check in each.checks)
    for name in limits:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"Did you mean '{near[0]}'?" if near else "`mixledger methods --limits` lists them."
            raise SettingsError(f"{FILE_NAME} [results] limits: '{name}' is not the limit of a check. {hint}")
    for each in stated:
        if isinstance(each, Formula | Mean):
            yield replace(each, checks=tuple(_changed(check, limits) for check in each.checks))
        else:
            yield each


def _changed(check: Check, limits: Mapping[str, float]) -> Check:
    if not any(bound.name in limits for bound in check.bounds):
        return check
    bounds = tuple(Bound(bound.name, limits[bound.name]) if bound.name in limits else bound for bound in check.bounds)
    return replace(check, bounds=bounds, mark="setting")
