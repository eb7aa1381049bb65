"""JSON: the summary and the results behind it for other systems, in a stated and versioned shape, made on request."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class SummaryJson:
    """Renders `summary.json`."""

    name = "json"
    on_request = "json"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return the summary of the scope."""
        from plugins.renderers.sections.handed_out import summary_json
        from plugins.renderers.sections.sheets import sheets

        return [Artefact("summary.json", summary_json(sheets(tables, scope)), "application/json")]


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the summary as JSON."""
    return [SummaryJson()]
