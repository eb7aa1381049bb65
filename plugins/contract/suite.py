"""The tests `pytest --mixledger-importers` adds: every rule for every importer and renderer present."""

from collections.abc import Iterator
from typing import Any


class TestImporters:
    """Every importer: shipped, installed and trusted, and of the workspace."""

    @classmethod
    def mixledger_cases(cls, config: Any) -> Iterator[tuple[str, Any]]:
        """Yield a case for every rule and importer."""
        from plugins.contract import runner
        from plugins.contract.pytest_plugin import present
        from plugins.contract.rules import RULES

        for subject in runner.subjects(present(config)):
            yield from ((f"{subject.importer.name}-{rule.name}", (rule, subject)) for rule in RULES.values())

    def test_contract(self, mixledger_case: Any) -> None:
        """Hold one importer to one rule."""
        mixledger_case()


class TestRenderers:
    """Every renderer: shipped, and installed and trusted."""

    @classmethod
    def mixledger_cases(cls, config: Any) -> Iterator[tuple[str, Any]]:
        """Yield a case for every rule and renderer."""
        from plugins.contract.pytest_plugin import present
        from plugins.contract.renderer_rules import RULES, RendererSubject

        found = present(config)
        shipped = {each.name for each in found.known if each.kind == "renderer" and each.origin == "shipped"}
        for one in found.renderers:
            subject = RendererSubject(one, one.name in shipped)
            yield from ((f"{one.name}-{rule.name}", (rule, subject)) for rule in RULES.values())

    def test_contract(self, mixledger_case: Any) -> None:
        """Hold one renderer to one rule."""
        mixledger_case()
