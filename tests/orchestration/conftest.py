"""One real orchestrator's server on loopback for all of these tests."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline import server
from tests.orchestration.children import environment


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "orchestrated: starts a real orchestrator's server; takes seconds")


@pytest.fixture(scope="session")
def notes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the file in which every child notes addresses outside this machine."""
    made = tmp_path_factory.mktemp("outbound") / "notes.txt"
    made.touch()
    return made


@pytest.fixture(scope="session")
def api_url(tmp_path_factory: pytest.TempPathFactory, notes: Path) -> Iterator[str]:
    """Give the address of a real server. This process itself stays without one, so no other test meets it."""
    home = tmp_path_factory.mktemp("orchestrator")
    before = dict(os.environ)
    os.environ.update(environment(notes))
    try:
        server.quieten()
        with server.child(home, server.any_port()) as standing:
            os.environ.clear()
            os.environ.update(before)
            yield standing.api_url
    finally:
        os.environ.clear()
        os.environ.update(before)
