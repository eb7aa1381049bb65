"""Workbook: the tables of the pages on sheets, made on request."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class Workbook:
    """Renders `tables.xlsx`."""

    name = "workbook"
    on_request = "xlsx"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return one workbook with the tables of the scope."""
        from plugins.renderers.sections.handed_out import xlsx
        from plugins.renderers.sections.sheets import sheets

        kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
        return [Artefact("tables.xlsx", xlsx(sheets(tables, scope)), kind)]


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the workbook."""
    return [Workbook()]
