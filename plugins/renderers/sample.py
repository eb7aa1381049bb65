"""Sample pages: one page per sample in the scope."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from plugins.api import Artefact, Renderer, Scope, hookimpl
from plugins.renderers.verbs.presentation import presented

if TYPE_CHECKING:
    import polars as pl


class SamplePages:
    """Renders `sample/<slug>.html` for every sample in the scope."""

    name = "sample"

    @presented
    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return one page per sample in the scope that the register knows."""
        from plugins.renderers.sections.sample_pages import sample_pages

        return (
            Artefact(f"sample/{slug}.html", page, "text/html") for slug, page in sample_pages(tables, scope.samples)
        )


@hookimpl
def mixledger_renderers() -> Iterable[Renderer]:
    """Offer the sample pages."""
    return [SamplePages()]
