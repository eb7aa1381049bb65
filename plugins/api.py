"""All that the author of an importer or a renderer needs: protocols, exports, refusals, the hook marker.

A plugin imports this module, under its public name `mixledger.plugin`, and `schemas`; nothing else of the project is
promised to stay. What stands in `__all__` keeps its name, parameters and meaning within one main version.

| to write | use |
|---|---|
| an importer | `Importer`, `Export`, `Reading`, `Refusing`, `refusals`, `decode`, the hook `mixledger_importers` |
| an importer that is a layout | `from_layout` |
| a renderer | `Renderer`, `Scope`, `Artefact`, the hook `mixledger_renderers` |
| its tests | `ImporterContract`, `RendererContract` |

Errors: an importer hands back refusals and never raises for a bad file. `Refusing(code, reason, …)` is raised and
caught inside an importer; its `row(hash)` goes into `refusals`. The codes are those of `CATALOGUE`. Anything else that
leaves `claims`, `read` or `render` is reported with the plugin's name and costs the files it was raised for.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import pluggy

from plugins.errors import CATALOGUE, Refusing, remedy_of
from plugins.export import HEAD_BYTES, READ_LIMIT, Export, TooLargeError
from plugins.text import decode

if TYPE_CHECKING:
    import polars as pl

    from plugins.contract.classes import ImporterContract, RendererContract

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
    "ImporterContract",
    "Reading",
    "Refusing",
    "Renderer",
    "RendererContract",
    "Scope",
    "TooLargeError",
    "decode",
    "folder_of",
    "from_layout",
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
    if name in {"ImporterContract", "RendererContract"}:
        from plugins.contract import classes

        return getattr(classes, name)
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
    """Reads one kind of export. Pure: no network, no clock, no file but the exports handed in.

    An importer in code runs in a process of its own and under a time limit (`[plugins] time_limit_seconds`); what it
    tries besides reading is refused. `pytest --mixledger-importers` and `mixledger contract` hold it to its contract.
    """

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
        """Return why the export is of this kind, in a few words shown to users, or None.

        Asked for every new export of every kind, so it looks at `head_text` and `name` only. Two importers that claim
        one export are refused with both reasons, unless the settings prefer one.
        """

    def read(self, exports: Sequence[Export]) -> Reading:
        """Read a whole batch of exports it claims; refuses what it cannot read and never raises for it.

        Every export ends in rows, in refusals, or in both. A row names the line its values stand on. What the frames
        hold is checked against the schemas afterwards, so bounds and vocabularies need not be checked here.
        """


def from_layout(path: Path) -> Importer:
    """Return the importer of a layout that a package carries.

    Parameters
    ----------
    path
        The package's `layout.toml`; its folder is where `samples`, `expected` and `README.md` are looked for.

    Raises
    ------
    plugins.layout.section.LayoutError
        When the layout has a fault; the message names its line.
    """
    from plugins.layout.importer import LayoutImporter

    made = LayoutImporter.load(path)
    vars(made)["place"] = path.parent
    return made


def folder_of(plugin: object) -> Path:
    """Return the folder a plugin's examples, expected records and note lie in: that of its layout or its module."""
    import inspect

    place = getattr(plugin, "place", None)
    return Path(place) if place is not None else Path(inspect.getfile(type(plugin))).parent


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
    """Makes artefacts of read-only tables. Pure: no file, query, clock or network.

    It is called by every run. One that has an attribute `on_request`, the name of a format such as `"docx"`, is called
    by `mixledger report --format docx` instead, and is handed the tables of reports, too.
    """

    @property
    def name(self) -> str:
        """Return the short name of the renderer."""

    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return the artefacts for the scope; the same tables give the same bytes.

        The paths of a renderer that is not shipped lie below a folder of its own name.
        """
