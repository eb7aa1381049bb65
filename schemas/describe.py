"""Model -> plain frozen description of table and columns; the only module that reads pandera's inside."""

import inspect
from dataclasses import dataclass
from functools import cache
from typing import Any

import polars as pl

from schemas import catalogue
from schemas.keys import Ties


@dataclass(frozen=True)
class ColumnDescription:
    """One column: everything the store, the dictionary and the documents need to know of it."""

    name: str
    dtype: pl.DataType
    sentence: str
    unit: str | None
    nullable: bool
    above: float | None
    at_least: float | None
    at_most: float | None
    words: tuple[str, ...] | None
    caution: str | None
    vocabulary: str | None = None

    def expected(self) -> str:
        """Return in words what a value must be."""
        if self.words:
            return "one of " + ", ".join(self.words)
        parts = []
        if self.above is not None:
            parts.append(f"above {self.above:g}")
        if self.at_least is not None:
            parts.append(f"at least {self.at_least:g}")
        if self.at_most is not None:
            parts.append(f"at most {self.at_most:g}")
        unit = f" {self.unit}" if self.unit else ""
        return (" and ".join(parts) + unit) if parts else f"a value of type {self.dtype}{unit}"


@dataclass(frozen=True)
class Description:
    """One record: name, sentence, columns, ties, and whether importers may hand it in."""

    name: str
    sentence: str
    columns: tuple[ColumnDescription, ...]
    ties: Ties
    imported: bool

    def column(self, name: str) -> ColumnDescription:
        """Return the column of that name; KeyError names the record otherwise."""
        for candidate in self.columns:
            if candidate.name == name:
                return candidate
        raise KeyError(f"record '{self.name}' has no column '{name}'")

    def schema(self) -> dict[str, pl.DataType]:
        """Return column name -> polars type, in declared order."""
        return {column.name: column.dtype for column in self.columns}


_STATISTICS = {
    "greater_than": ("above", "min_value"),
    "greater_than_or_equal_to": ("at_least", "min_value"),
    "less_than_or_equal_to": ("at_most", "max_value"),
    "isin": ("words", "allowed_values"),
}


def _column(name: str, field: Any) -> ColumnDescription:
    bounds: dict[str, Any] = {}
    for check in field.checks:
        target, statistic = _STATISTICS[check.name]
        bounds[target] = check.statistics[statistic]
    metadata = field.metadata or {}
    words = bounds.pop("words", None)
    return ColumnDescription(
        name=name,
        dtype=field.dtype.type,
        sentence=field.description or "",
        unit=metadata.get("unit"),
        nullable=field.nullable,
        above=bounds.get("above"),
        at_least=bounds.get("at_least"),
        at_most=bounds.get("at_most"),
        words=tuple(words) if words else None,
        caution=metadata.get("caution"),
        vocabulary=metadata.get("words"),
    )


@cache
def describe(name: str) -> Description:
    """Describe the record of that name.

    Raises
    ------
    KeyError
        When no record has that name.
    """
    imported = name in catalogue.records()
    model = catalogue.records().get(name) or catalogue.results()[name]
    sentence = (inspect.getdoc(model) or "").split("\n\n")[0].replace("\n", " ")
    columns = tuple(_column(key, field) for key, field in model.to_schema().columns.items())
    return Description(name, sentence, columns, catalogue.ties(model), imported)


@cache
def of_samples() -> tuple[str, ...]:
    """Return the imported records in tables whose rows belong to a sample, the register's entry among them."""
    return tuple(
        each.name
        for each in describe_all()
        if each.imported and each.ties.storage == "table" and "sample_id" in each.ties.key
    )


@cache
def of_specimens() -> tuple[str, ...]:
    """Return those of them that were measured on single specimens."""
    return tuple(name for name in of_samples() if "specimen_no" in describe(name).ties.key)


@cache
def describe_all() -> tuple[Description, ...]:
    """Describe every record, imported ones first."""
    return tuple(describe(name) for name in (*catalogue.records(), *catalogue.results()))
