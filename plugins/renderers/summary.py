"""Cross-project summary: one page, all projects side by side."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class SummaryPage:
    """Renders `summary.html`, whatever the scope."""

    name = "summary"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return the summary of all projects; the scope does not narrow it."""
        from plugins.renderers.sections.summary_page import summary_html

        return [Artefact("summary.html", summary_html(tables), "text/html")]


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the summary page."""
    return [SummaryPage()]
