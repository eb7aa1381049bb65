"""THE order of the steps, written once against an executor: in this process, or as an orchestrated flow."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Protocol, TypeVar

from pipeline import intake, state
from pipeline.progress import Progress, Quiet
from pipeline.settings import Settings
from pipeline.workspace import Workspace

T = TypeVar("T")


class Executor(Protocol):
    """Runs the steps: here and now, or as tasks of an orchestrator. Every step may safely be run again."""

    def call(self, step: Callable[..., T], *given: Any) -> T:
        """Run one step."""
        ...

    def map(self, step: Callable[[Any], T], items: Sequence[Any]) -> list[T]:
        """Run a step once per item; the results come in the order of the items."""
        ...


@dataclass(frozen=True)
class Outcome:
    """What one pass did."""

    run_id: int | None = None
    exports: int = 0
    rows_accepted: int = 0
    refused: int = 0
    pages: int = 0
    problems: tuple[str, ...] = field(default_factory=tuple)

    @property
    def clean(self) -> bool:
        """Whether nothing was refused, left waiting, or left in the inbox."""
        return not self.refused and not self.problems

    @property
    def sentence(self) -> str:
        """What the pass did, in one line."""
        if not self.exports:
            return f"nothing new, {self.pages} pages rendered" if self.pages else "nothing new"
        return (
            f"run {self.run_id}: {self.exports} exports, {self.rows_accepted} rows accepted, "
            f"{self.refused} refused or waiting, {self.pages} pages rendered"
        )


def one_pass(
    workspace: Workspace,
    settings: Settings,
    executor: Executor,
    progress: Progress | None = None,
    *,
    pages: bool = True,
    only: Collection[intake.Sighting] | None = None,
    wait_seconds: float = 0,
) -> Outcome:
    """Take in, read, store, derive, judge, publish, render: whatever is new, and nothing else.

    Parameters
    ----------
    pages
        Whether to render the pages that are owed.
    only
        Files of the inbox to take in; None takes every new one.
    wait_seconds
        How long to wait for another process that is writing to this workspace.

    Raises
    ------
    StoreBusyError
        When another process is writing to this workspace, and still is after the wait.
    """
    from warehouse.lock import writer

    with writer(workspace.store, wait_seconds):
        return pass_in_hand(workspace, settings, executor, progress, pages=pages, only=only)


def pass_in_hand(
    workspace: Workspace,
    settings: Settings,
    executor: Executor,
    progress: Progress | None = None,
    *,
    pages: bool = True,
    only: Collection[intake.Sighting] | None = None,
) -> Outcome:
    """Do what `one_pass` does, for a caller that holds the right to write (`warehouse.lock.writer`)."""
    from plugins.sources import pages_digest

    shown = progress or Quiet()
    known = intake.journal(workspace)
    arrivals, problems = executor.call(intake.take_in, workspace, known, only)
    journal = [*known, *arrivals]
    marks = state.load(workspace)
    outcome = Outcome()
    owed = (len(journal), state.readers(workspace, settings), state.derivation(settings))
    if owed != (marks.arrivals, marks.readers, marks.derivation):
        marks, outcome = store_pending(workspace, settings, executor, shown, journal, marks)
        state.save(workspace, marks)
    outcome = replace(outcome, problems=(*problems, *outcome.problems))
    renderers = pages_digest(settings.plugins.trusted, repr(settings.pages))
    # Before anything is stored there are pages all the same, which say that and what to do.
    bare = not marks.stored and renderers != marks.renderers
    if renderers != marks.renderers:
        marks = replace(marks, renderers=renderers, rendered=0)
    if pages and (bare or marks.rendered != marks.stored):
        outcome = _render(workspace, settings, executor, shown, marks, outcome)
        state.save(workspace, replace(marks, rendered=marks.stored))
    return outcome


def store_pending(
    workspace: Workspace,
    settings: Settings,
    executor: Executor,
    progress: Progress,
    journal: Sequence[intake.Arrival],
    marks: state.State,
) -> tuple[state.State, Outcome]:
    """Read what the journal holds beyond the marks, store, derive, judge and publish it; return the new marks."""
    from pipeline import reading, update

    plan = executor.call(update.plan, workspace, settings, journal, marks)
    with progress.stage("reading", sum(len(batch.incoming) for batch in plan.batches)) as step:

        def read(batch: reading.Batch) -> reading.Read:
            done = reading.read(batch)
            step(len(batch.incoming))
            return done

        reads = [plan.refused, *executor.map(read, plan.batches)]
    with progress.stage("storing, deriving, judging", 1):
        stored = executor.call(update.store, workspace, settings, plan, reads)
    owed = state.derivation(settings)
    marks = replace(
        marks,
        # Formulas or settings that changed, such as the rounding, may show in any page.
        rendered=marks.rendered if owed == marks.derivation else 0,
        arrivals=len(journal),
        readers=state.readers(workspace, settings),
        derivation=owed,
        stored=stored.run_id or marks.stored,
    )
    return marks, Outcome(stored.run_id, stored.exports, stored.rows_accepted, stored.refused, 0, plan.problems)


def _render(
    workspace: Workspace,
    settings: Settings,
    executor: Executor,
    progress: Progress,
    marks: state.State,
    outcome: Outcome,
) -> Outcome:
    from pipeline.render import render, render_bare

    with progress.stage("rendering pages", 1):
        if marks.stored:
            written = executor.call(render, workspace, settings, marks.rendered)
        else:
            written = executor.call(render_bare, workspace, settings)
    problems = (*outcome.problems, *(each for each in written.problems if each not in outcome.problems))
    return replace(outcome, pages=written.files, problems=problems)
