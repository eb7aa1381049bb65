"""CSV: the tables of the pages, a file each, made on request."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class CommaSeparated:
    """Renders `csv/<table>.csv`."""

    name = "csv"
    on_request = "csv"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return one file per table of the scope."""
        from plugins.renderers.sections.handed_out import csv
        from plugins.renderers.sections.sheets import sheets

        return [Artefact(f"csv/{name}.csv", csv(frame), "text/csv") for name, frame in sheets(tables, scope).items()]


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the CSV files."""
    return [CommaSeparated()]
