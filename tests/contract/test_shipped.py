"""Every shipped importer and renderer keeps the whole contract."""

import pytest

from plugins import manager
from plugins.contract import renderer_rules, rules, runner
from plugins.contract.model import NotApplicable, Subject, World

SHIPPED = manager.load()
SUBJECTS = {subject.importer.name: subject for subject in runner.subjects(SHIPPED)}


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    return World(tmp_path_factory.mktemp("contract"), runner.strangers(SHIPPED))


@pytest.mark.parametrize("rule", rules.RULES)
@pytest.mark.parametrize("name", SUBJECTS)
def test_importer(name: str, rule: str, world: World) -> None:
    subject: Subject = SUBJECTS[name]
    try:
        findings = rules.RULES[rule].findings(subject, world)
    except NotApplicable as reason:
        pytest.skip(str(reason))
    assert findings == []


@pytest.mark.parametrize("rule", renderer_rules.RULES)
@pytest.mark.parametrize("name", [one.name for one in SHIPPED.renderers])
def test_renderer(name: str, rule: str) -> None:
    one = next(one for one in SHIPPED.renderers if one.name == name)
    assert renderer_rules.RULES[rule].findings(renderer_rules.RendererSubject(one, shipped=True)) == []
