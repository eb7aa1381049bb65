"""The contract is worth something only if each rule can fail: an honest plugin keeps all, a mutant breaks its own."""

from dataclasses import replace

import pytest

from plugins import manager
from plugins.contract import mutants, renderer_rules, rules, runner
from plugins.contract.model import NotApplicable, Subject, World
from plugins.contract.renderer_rules import RendererSubject
from plugins.skeleton.importer import Reader


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    return World(tmp_path_factory.mktemp("contract"), runner.strangers(manager.load()))


@pytest.fixture(scope="module")
def honest() -> Subject:
    return Subject.beside(Reader())


def test_every_rule_has_a_mutant_and_every_mutant_a_rule() -> None:
    assert set(mutants.MUTANTS) == set(rules.RULES)
    assert set(mutants.RENDERER_MUTANTS) == set(renderer_rules.RULES)
    assert set(mutants.IMPATIENT) <= {*rules.RULES, *renderer_rules.RULES}


@pytest.mark.parametrize("name", rules.RULES)
def test_the_honest_importer_keeps_the_rule(name: str, honest: Subject, world: World) -> None:
    assert rules.RULES[name].findings(honest, world) == []


@pytest.mark.parametrize("name", rules.RULES)
def test_its_mutant_breaks_the_rule(name: str, honest: Subject, world: World) -> None:
    mutant = mutants.MUTANTS[name](honest)
    around = replace(world, limit=mutants.IMPATIENT.get(name, world.limit))
    assert rules.RULES[name].findings(mutant, around)


@pytest.mark.parametrize("name", renderer_rules.RULES)
def test_renderers_too(name: str) -> None:
    rule = renderer_rules.RULES[name]
    assert rule.findings(RendererSubject(mutants.Page())) == []
    assert rule.findings(mutants.RENDERER_MUTANTS[name])


def test_a_rule_without_anything_to_look_at_says_so(honest: Subject, world: World) -> None:
    with pytest.raises(NotApplicable, match="no example of another importer"):
        rules.RULES["claims_no_stranger"].findings(honest, replace(world, strangers={}))
