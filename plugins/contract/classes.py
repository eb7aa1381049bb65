"""Base classes for the tests of a plugin's author: name the plugin, and every rule becomes a test."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

from plugins.api import Importer, Renderer


class ImporterContract:
    """Tests of one importer. The pytest plugin that comes with mixledger makes a test of every rule.

    Attributes
    ----------
    importer
        The importer, or its class.
    folder
        Where `samples`, `expected` and `README.md` lie; left out, the folder of the importer's layout or module.

    Examples
    --------
    >>> from mixledger.plugin import ImporterContract
    >>> class TestOurPress(ImporterContract):
    ...     importer = OurPress
    """

    importer: ClassVar[Importer | type[Importer]]
    folder: ClassVar[Path | None] = None

    @classmethod
    def mixledger_cases(cls, config: Any) -> Iterator[tuple[str, Any]]:
        """Yield name and case of every rule for the importer."""
        from plugins.contract.model import Subject
        from plugins.contract.rules import RULES

        subject = Subject.beside(_made(cls.importer), cls.folder)
        yield from ((f"{subject.importer.name}-{rule.name}", (rule, subject)) for rule in RULES.values())

    def test_contract(self, mixledger_case: Any) -> None:
        """Hold the importer to one rule."""
        mixledger_case()


class RendererContract:
    """Tests of one renderer, in the same way.

    Attributes
    ----------
    renderer
        The renderer, or its class.
    """

    renderer: ClassVar[Renderer | type[Renderer]]

    @classmethod
    def mixledger_cases(cls, config: Any) -> Iterator[tuple[str, Any]]:
        """Yield name and case of every rule for the renderer."""
        from plugins.contract.renderer_rules import RULES, RendererSubject

        subject = RendererSubject(_made(cls.renderer))
        yield from ((f"{subject.renderer.name}-{rule.name}", (rule, subject)) for rule in RULES.values())

    def test_contract(self, mixledger_case: Any) -> None:
        """Hold the renderer to one rule."""
        mixledger_case()


def _made(given: Any) -> Any:
    return given() if isinstance(given, type) else given
