"""Work list: one page of what is missing, late, doubtful or owed in all projects."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class WorkListPage:
    """Renders `due.html`, whatever the scope."""

    name = "due"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return the work list of all projects; the scope does not narrow it."""
        from plugins.renderers.sections.work_page import work_html

        return [Artefact("due.html", work_html(tables), "text/html")]


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the work list."""
    return [WorkListPage()]
