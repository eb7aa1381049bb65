"""The data dictionary: every table, view, long series and macro with its columns, as readers find them."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import duckdb
import polars as pl

from schemas import vocabulary
from schemas.describe import ColumnDescription, Description
from warehouse import as_of, catalogue_tables, ddl, lineage, migrations, series, series_views, views
from warehouse.own_tables import OWN
from warehouse.sql import fetch
from warehouse.view import View


@dataclass(frozen=True)
class Column:
    """One column: type, unit, what it holds, whether it identifies the row, what it names, its closed vocabulary."""

    name: str
    type: str
    unit: str | None
    nullable: bool | None
    sentence: str
    in_key: bool = False
    refers_to: str | None = None
    vocabulary: str | None = None


@dataclass(frozen=True)
class Relation:
    """One table, view, long series or macro.

    Attributes
    ----------
    kind
        `register and observations`, `results`, `own`, `long series`, `view` or `macro`.
    family
        Question family of a view; empty otherwise.
    grain
        What one row stands for.
    """

    name: str
    kind: str
    family: str
    sentence: str
    grain: str
    cautions: str
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class Dictionary:
    """All relations, closed vocabularies (name -> word -> definition), and the catalogue of properties."""

    relations: tuple[Relation, ...]
    vocabularies: dict[str, dict[str, str]]
    properties: tuple[dict[str, Any], ...]

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        return asdict(self)


def build(properties: pl.DataFrame, flags: pl.DataFrame, columns: pl.DataFrame) -> Dictionary:
    """Return the dictionary of a warehouse with this catalogue; parameters as in `Store.describe_properties`.

    It is read off an empty warehouse made for the purpose, so that it shows what readers find.
    """
    with duckdb.connect() as connection:
        migrations.begin(connection)
        catalogue_tables.keep_all(connection, properties, flags, columns)
        views.refresh(connection)
        views.refresh_macros(connection)
        made, long = views.all_of(connection), series_views.of(connection, None)
        for view in long:
            views.create(connection, view)
        types = _types(connection)
        macros = tuple(_macros(connection))
    tables = [_table(each) for each in ddl.tables()]
    headed = {each.name: each for each in series.records()}
    relations = [
        *tables,
        *(_view(view, types, headed.get(view.name), "long series") for view in long),
        *(_view(view, types, None, "view") for view in sorted(made, key=lambda view: (view.family, view.name))),
        *macros,
    ]
    return Dictionary(tuple(relations), _vocabularies(), tuple(properties.sort("property").to_dicts()))


def _types(connection: duckdb.DuckDBPyConnection) -> dict[tuple[str, str], str]:
    found = fetch(connection, "SELECT table_name, column_name, data_type FROM duckdb_columns() WHERE NOT internal")
    return {(table, name): dtype for table, name, dtype in found.iter_rows()}


def _kind(description: Description) -> str:
    if description.imported:
        return "register and observations"
    return "own" if description.name in {each.name for each in OWN} else "results"


def _table(description: Description) -> Relation:
    key = ", ".join(description.ties.key)
    grain = f"{key} and period of validity" if description.imported else key
    return Relation(
        description.name,
        _kind(description),
        "",
        description.sentence,
        grain,
        "",
        tuple(_column(each, description) for each in ddl.columns(description)),
    )


def _column(column: ColumnDescription, description: Description) -> Column:
    return Column(
        column.name,
        ddl.duck_type(column.dtype),
        column.unit,
        column.nullable,
        ddl.comment(column),
        column.name in description.ties.key,
        description.ties.refers.get(column.name),
        column.vocabulary,
    )


def _units() -> dict[str, str | None]:
    """Return the unit of each column name: one name has one unit everywhere."""
    return {column.name: column.unit for each in (*ddl.tables(), *series.records()) for column in each.columns}


def _view(view: View, types: dict[tuple[str, str], str], record: Description | None, kind: str) -> Relation:
    units = _units()
    key, words = (record.ties.key, record.schema()) if record else ((), {})
    columns = tuple(
        Column(
            name,
            types[view.name, name],
            units.get(name),
            record.column(name).nullable if record and name in words else None,
            sentence,
            name in key,
        )
        for name, sentence in view.columns.items()
    )
    return Relation(view.name, kind, view.family, view.purpose, view.grain, view.cautions, columns)


def _macros(connection: duckdb.DuckDBPyConnection) -> Iterator[Relation]:
    found = fetch(
        connection,
        "SELECT schema_name, function_name, parameters, comment FROM duckdb_functions() "
        "WHERE NOT internal AND function_type = 'table_macro' AND schema_name IN ($1, $2) ORDER BY ALL",
        [as_of.SCHEMA, lineage.SCHEMA],
    )
    for schema, name, parameters, comment in found.iter_rows():
        yield Relation(f"{schema}.{name}({', '.join(parameters)})", "macro", schema, comment, "", "", ())


def _vocabularies() -> dict[str, dict[str, str]]:
    kinds = [each for each in vars(vocabulary).values() if isinstance(each, type) and issubclass(each, vocabulary.Word)]
    return {
        kind.__name__: {str(word.value): word.definition for word in kind}
        for kind in sorted(kinds, key=lambda kind: kind.__name__)
        if list(kind)
    }
