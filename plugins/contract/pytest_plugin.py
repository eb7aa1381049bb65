"""The pytest plugin every package has once mixledger is installed; it imports nothing heavy until it is used."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from plugins.contract.model import World
    from plugins.manager import Plugins

_PRESENT = pytest.StashKey[Any]()
_SUITE = Path(__file__).with_name("suite.py")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the options of the contract."""
    group = parser.getgroup("mixledger", "mixledger: the contract of importers and renderers")
    group.addoption(
        "--mixledger-importers",
        action="store_true",
        help="hold every importer and renderer to its contract: shipped, installed and trusted, of the workspace",
    )
    group.addoption(
        "--mixledger-workspace",
        metavar="DIR",
        default=".",
        help="workspace whose layouts and trust count; the current folder unless given",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Collect the suite of the contract if asked to; alone, unless other tests are named."""
    if not config.getoption("--mixledger-importers"):
        return
    if config.args_source is not pytest.Config.ArgsSource.ARGS:
        config.args.clear()
    config.args.append(str(_SUITE))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Make a test of every rule for the plugin a class names."""
    cases: Callable[[pytest.Config], Any] | None = getattr(metafunc.cls, "mixledger_cases", None)
    if "mixledger_case" not in metafunc.fixturenames or cases is None:
        return
    found = list(cases(metafunc.config))
    metafunc.parametrize("mixledger_case", [case for _, case in found], ids=[name for name, _ in found], indirect=True)


def present(config: pytest.Config) -> "Plugins":
    """Return the plugins of the workspace, loaded once."""
    if _PRESENT not in config.stash:
        from plugins import manager

        config.stash[_PRESENT] = manager.of_workspace(Path(config.getoption("--mixledger-workspace")))
    found: Plugins = config.stash[_PRESENT]
    return found


@pytest.fixture(scope="session")
def mixledger_world(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> "World":
    """Give what surrounds the importers under test: the examples of all others."""
    from plugins.contract import runner
    from plugins.contract.model import World

    return World(tmp_path_factory.mktemp("contract"), runner.strangers(present(request.config)))


@pytest.fixture
def mixledger_case(request: pytest.FixtureRequest) -> Callable[[], None]:
    """Give the call that holds one plugin to one rule."""
    from plugins.contract.model import NotApplicable, Rule

    rule, subject = request.param

    def hold() -> None:
        given = (subject, request.getfixturevalue("mixledger_world")) if isinstance(rule, Rule) else (subject,)
        try:
            findings = rule.findings(*given)
        except NotApplicable as reason:
            pytest.skip(str(reason))
        if findings:
            pytest.fail("\n".join([f"broken: {rule.sentence}", *findings]), pytrace=False)

    return hold
