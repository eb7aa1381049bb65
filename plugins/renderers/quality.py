"""Data quality: one page of what was refused or waits, lapsed calibrations and instruments that drift."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class QualityPage:
    """Renders `quality.html`, whatever the scope."""

    name = "quality"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return the data-quality page of all laboratories; the scope does not narrow it."""
        from plugins.renderers.sections.quality_page import quality_html

        return [Artefact("quality.html", quality_html(tables), "text/html")]


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the data-quality page."""
    return [QualityPage()]
