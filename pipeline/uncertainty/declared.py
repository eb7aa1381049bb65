"""The contributions of instruments and methods, as declared and as the settings change them."""

import difflib
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.settings import FILE_NAME, SettingsError, Uncertainty

_FILE = Path(__file__).with_name("contributions.toml")
#: The contribution that the register states balance by balance.
READABILITY = "balance_readability"


@dataclass(frozen=True)
class Contribution:
    """One share of an uncertainty.

    Attributes
    ----------
    name, on, methods, takes
        Name in the settings; inputs or properties it bears on (`*`: any ending); methods it is limited to; input a
        formula must take.
    standard, relative
        Standard uncertainty in `unit`, or as a share of the figure.
    balance
        Whether it is the balance's share of a mass.
    about, source, mark
        What it stands for, where it is from, how far that is confirmed.
    """

    name: str
    on: tuple[str, ...]
    about: str
    source: str
    mark: str
    methods: tuple[str, ...] = ()
    takes: str | None = None
    balance: bool = False
    standard: float | None = None
    relative: float | None = None
    unit: str | None = None

    def bears_on(self, name: str, method: str | None) -> bool:
        """Return whether it bears on an input or property in the records of a method."""
        return (not self.methods or method in self.methods) and any(fnmatchcase(name, each) for each in self.on)

    @property
    def value(self) -> float:
        """The number the settings may replace."""
        return self.standard if self.standard is not None else self.relative or 0.0


@cache
def shipped() -> tuple[Contribution, ...]:
    """Return the contributions as declared."""
    entries: list[dict[str, Any]] = tomllib.loads(_FILE.read_text(encoding="utf-8"))["contribution"]
    return tuple(Contribution(**(entry | {"on": tuple(entry["on"])} | _methods(entry))) for entry in entries)


def _methods(entry: dict[str, Any]) -> dict[str, Any]:
    return {"methods": tuple(entry["methods"])} if "methods" in entry else {}


def contributions(settings: Uncertainty) -> tuple[Contribution, ...]:
    """Return the contributions with the values of the settings.

    Raises
    ------
    SettingsError
        When the settings name a contribution nobody declared.
    """
    names = [each.name for each in shipped()]
    for given in settings.contributions:
        if given not in names:
            near = difflib.get_close_matches(given, names, n=1)
            hint = f"Did you mean '{near[0]}'?" if near else f"Known: {', '.join(names)}."
            raise SettingsError(f"{FILE_NAME} [uncertainty] contributions: '{given}' is not declared. {hint}")
    return tuple(_changed(settings))


def _changed(settings: Uncertainty) -> Iterator[Contribution]:
    for each in shipped():
        value = settings.contributions.get(each.name)
        if value is None:
            yield each
        elif each.relative is not None:
            yield replace(each, relative=value, mark="setting")
        else:
            yield replace(each, standard=value, mark="setting")
