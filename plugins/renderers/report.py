"""Sample reports: made on request, one page per report that is issued or looked back on."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class SampleReports:
    """Renders `<slug of the report>.html` for every row of the table `reports`, whatever the scope."""

    name = "report"
    on_request = "html"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return one page per report."""
        from plugins.renderers.sections.report_pages import report_pages

        return (Artefact(f"{slug}.html", page, "text/html") for slug, page in report_pages(tables))


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the sample reports."""
    return [SampleReports()]
