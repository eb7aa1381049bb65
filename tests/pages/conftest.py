"""Pages rendered from the invented data set, once for all tests that only read them."""

import importlib
from collections.abc import Callable, Mapping

import polars as pl
import pytest

from pipeline import overview_tables
from plugins.api import Scope
from plugins.renderers.verbs.tables import take
from tests.pages import invented

Pages = dict[str, str]
Render = Callable[..., Pages]
_MODULES = ("summary", "due", "quality", "project", "mix", "sample")


def figures(tables: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Return the figures of the projects as the pipeline computes them from the results and judgements handed in."""
    if "samples" not in tables:
        return {}
    return overview_tables.projects({name: take(tables, name) for name in ("samples", "sample_values", "judgements")})


def render(tables: Mapping[str, pl.DataFrame], scope: Scope | None = None) -> Pages:
    """Render all pages: path -> text."""
    tables = {**tables, **figures(tables)}
    pages = {}
    for name in _MODULES:
        for renderer in importlib.import_module(f"plugins.renderers.{name}").mixledger_renderers():
            for artefact in renderer.render(tables, scope or Scope()):
                assert artefact.path not in pages, f"{artefact.path} is rendered twice"
                assert artefact.media_type == "text/html"
                pages[artefact.path] = artefact.content.decode("utf-8")
    return pages


@pytest.fixture(scope="session")
def whole() -> dict[str, pl.DataFrame]:
    return invented.tables()


@pytest.fixture(scope="session")
def pages(whole: dict[str, pl.DataFrame]) -> Pages:
    return render(whole)
