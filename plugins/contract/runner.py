"""Runs the rules without pytest, over any importers, and finds their examples."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from plugins.api import Importer
from plugins.contract.model import NotApplicable, Subject, World, files_in
from plugins.manager import Known, Plugins

_ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Outcome:
    """What became of one rule for one importer: findings, or why it did not apply."""

    importer: str
    rule: str
    findings: tuple[str, ...] = ()
    skipped: str | None = None


def shipped_examples() -> Path | None:
    """Return the folder of the shipped exports, in a checkout or an installed package; None where there is none."""
    folders = (_ROOT / "sample_exports", _ROOT / "pipeline" / "sample_exports")
    return next((folder for folder in folders if folder.is_dir()), None)


def subject_of(importer: Importer, known: Known) -> Subject:
    """Return an importer with its examples: of a shipped one those of the demo, of any other those beside it."""
    if known.origin != "shipped" or known.place is None:
        return Subject.beside(importer, known.place)
    examples = shipped_examples()
    expected = _ROOT / "tests" / "expected" / importer.name
    return Subject(
        importer,
        files_in(examples / importer.name) if examples else (),
        expected if expected.is_dir() else None,
        known.place / "README.md",
    )


def subjects(plugins: Plugins, names: Iterable[str] = ()) -> list[Subject]:
    """Return the importers of a run with their examples; all of them unless names are given.

    Raises
    ------
    LookupError
        When there is no importer of a name.
    """
    known = {each.name: each for each in plugins.known if each.kind == "importer"}
    wanted = list(names) or [one.name for one in plugins.importers]
    found = []
    for name in wanted:
        importer = plugins.importer(name)
        if importer is None:
            raise LookupError(
                f"there is no importer '{name}'; there are {', '.join(one.name for one in plugins.importers)}"
            )
        found.append(subject_of(importer, known[name]))
    return found


def strangers(plugins: Plugins) -> dict[str, tuple[Path, ...]]:
    """Return importer -> a few of its examples, for the others not to claim."""
    return {one.importer.name: tuple(one.chosen()) for one in subjects(plugins)}


def run(subjects: Sequence[Subject], world: World) -> Iterator[Outcome]:
    """Yield the outcome of every rule for every importer."""
    from plugins.contract.rules import RULES

    for subject in subjects:
        for rule in RULES.values():
            name = subject.importer.name
            try:
                yield Outcome(name, rule.name, tuple(rule.findings(subject, world)))
            except NotApplicable as reason:
                yield Outcome(name, rule.name, skipped=str(reason))


def accept(subject: Subject, world: World) -> Iterator[tuple[Path, str, str]]:
    """Yield for each example with expected records, or else for the first, file, old and new text; writes nothing."""
    from plugins.contract.compare import written
    from plugins.contract.model import rows_of

    if subject.expected is None:
        return
    having = [example for example in subject.examples if subject.expected_of(example)]
    for example in having or list(subject.examples[:1]):
        _, reading = subject.reading(example, world)
        made = {**rows_of(reading), **({"refused": reading.refused} if reading.refused.height else {})}
        old = subject.expected_of(example)
        for record in sorted({*made, *old}):
            path = subject.expected / f"{example.name}.{record}.csv"
            before = path.read_text("utf-8") if path.exists() else ""
            yield path, before, written(made[record]) if record in made else ""
