"""Mix pages: one page per mix of the projects in the scope."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class MixPages:
    """Renders `mix/<slug>.html` for every mix designed for the projects in the scope, or sampled there."""

    name = "mix"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return one page per mix."""
        from plugins.renderers.sections.mix_pages import mix_pages

        return (Artefact(f"mix/{slug}.html", page, "text/html") for slug, page in mix_pages(tables, scope.projects))


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the mix pages."""
    return [MixPages()]
