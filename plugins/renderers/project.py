"""Project pages: one page per project in the scope."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class ProjectPages:
    """Renders `project/<slug>.html` for every project in the scope."""

    name = "project"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return one page per project in the scope that the register knows."""
        from plugins.renderers.sections.project_pages import project_pages

        return (
            Artefact(f"project/{slug}.html", page, "text/html") for slug, page in project_pages(tables, scope.projects)
        )


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the project pages."""
    return [ProjectPages()]
