"""All that the author of an importer or a renderer needs: protocols, exports, refusals, the hook marker."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import pluggy

from plugins.errors import CATALOGUE, Refusing, remedy_of
from plugins.export import HEAD_BYTES, READ_LIMIT, Export, TooLargeError

if TYPE_CHECKING:
    import polars as pl

    #: Columns of a frame of refusals: code, place, value, reason and remedy.
    REFUSALS: dict[str, pl.DataType]

__all__ = [
    "CATALOGUE",
    "HEAD_BYTES",
    "READ_LIMIT",
    "REFUSALS",
    "Artefact",
    "Export",
    "Importer",
    "Reading",
    "Refusing",
    "Renderer",
    "Scope",
    "TooLargeError",
    "hookimpl",
    "no_refusals",
    "refusals",
    "remedy_of",
]

#: Marks a function as an implementation of one of the hooks in `plugins.hookspecs`.
hookimpl = pluggy.HookimplMarker("mixledger")


def __getattr__(name: str) -> Any:
    # polars and the schemas are loaded only when a frame is made: listing the plugins must not pay for them.
    if name == "REFUSALS":
        return _refusal_schema()
    raise AttributeError(f"module 'plugins.api' has no attribute '{name}'")


def _refusal_schema() -> dict[str, "pl.DataType"]:
    import polars as pl

    from schemas.validate import REFUSED_SCHEMA

    return {"code": pl.String(), **REFUSED_SCHEMA, "remedy": pl.String()}


def no_refusals() -> "pl.DataFrame":
    """Return an empty frame of refusals."""
    import polars as pl

    return pl.DataFrame(schema=_refusal_schema())


def refusals(rows: Iterable[Mapping[str, object]]) -> "pl.DataFrame":
    """Return a frame of refusals; a column a row lacks is null, a lacking remedy comes from the catalogue.

    Parameters
    ----------
    rows
        One mapping per refusal with at least `code`, `export_hash` and `reason`. A null `source_line` refuses
        the whole file.
    """
    import polars as pl

    schema = _refusal_schema()
    filled = [
        {column: row.get(column) for column in schema} | {"remedy": row.get("remedy") or remedy_of(str(row["code"]))}
        for row in rows
    ]
    return pl.DataFrame(filled, schema=schema)


@dataclass(frozen=True)
class Reading:
    """What an importer made of a batch of exports.

    Attributes
    ----------
    frames
        Record name -> rows with the record's columns in stored units and types, and with `export_hash`,
        `source_part`, `source_line`, `issued_at`, `stated_at`. Nullable columns may be left out.
    refused
        What was not read (`REFUSALS`); a null `source_line` refuses the whole file.
    """

    frames: Mapping[str, "pl.DataFrame"]
    refused: "pl.DataFrame" = field(default_factory=no_refusals)


@runtime_checkable
class Importer(Protocol):
    """Reads one kind of export. Pure: no network, no clock, no file but the exports handed in."""

    @property
    def name(self) -> str:
        """Return the short name, equal to the folder's."""

    @property
    def version(self) -> str:
        """Return the version: it changes whenever the importer may read anything differently."""

    @property
    def gives(self) -> tuple[str, ...]:
        """Return the names of the records it hands in."""

    def claims(self, export: Export) -> str | None:
        """Return why the export is of this kind, or None. Looks at name and head, cheaply."""

    def read(self, exports: Sequence[Export]) -> Reading:
        """Read a whole batch of exports it claims; refuses what it cannot read and never raises for it."""


@dataclass(frozen=True)
class Scope:
    """What a renderer shows: null is all."""

    projects: frozenset[str] | None = None
    samples: frozenset[str] | None = None


@dataclass(frozen=True)
class Artefact:
    """One file a renderer makes: a relative path with forward slashes, its bytes, its media type."""

    path: str
    content: bytes
    media_type: str


@runtime_checkable
class Renderer(Protocol):
    """Makes artefacts of read-only tables. Pure: no file, query, clock or network."""

    @property
    def name(self) -> str:
        """Return the short name of the renderer."""

    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return the artefacts for the scope; the same tables give the same bytes."""
