"""Runs the order as a flow of the orchestrator: one task per step and per batch, with retries and a run history."""

import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Generic, TypeVar, cast

from pipeline import server

server.quieten()  # before the import below, or its telemetry is on

from prefect import Task, flow, task  # noqa: E402
from prefect.cache_policies import NO_CACHE  # noqa: E402
from prefect.client.schemas.objects import State  # noqa: E402
from prefect.events.worker import EventsWorker  # noqa: E402
from prefect.futures import PrefectFuture  # noqa: E402
from prefect.logging.handlers import APILogWorker  # noqa: E402
from prefect.runtime import flow_run  # noqa: E402
from prefect.states import Completed  # noqa: E402
from prefect.task_runners import TaskRunner, ThreadPoolTaskRunner  # noqa: E402

from pipeline import settings as settings_of  # noqa: E402
from pipeline import settled  # noqa: E402
from pipeline.order import Outcome, one_pass  # noqa: E402
from pipeline.progress import Progress  # noqa: E402
from pipeline.settings import Settings  # noqa: E402
from pipeline.workspace import Workspace, find  # noqa: E402

T = TypeVar("T")

FLOW_NAME = "mixledger-pass"

#: Batches read at the same time; the readers use every core by themselves, so more would only cost memory.
_AT_ONCE = 2
_STEP_WAITS = [1.0, 5.0]
_PASS_TRIES, _PASS_WAIT = 2, 10
_DRAIN_SECONDS = 5.0

#: Problems that trying again cannot mend.
_LASTING = (ValueError, TypeError, LookupError, AttributeError, ImportError)


class _Sealed(Generic[T]):
    """Keeps a result from being walked through, element by element, by the orchestrator."""

    def __init__(self, value: T) -> None:
        self.value = value


def _as_task(step: Callable[..., T], given: tuple[Any, ...], label: str) -> "Task[[], _Sealed[T]]":
    """Wrap a step with its arguments bound, so that they are neither walked through nor sent to the server."""
    lasting: list[Exception] = []

    def bound() -> _Sealed[T]:
        try:
            return _Sealed(step(*given))
        except _LASTING as fault:
            lasting.append(fault)
            raise

    return task(
        name=_title(step),
        task_run_name=label,
        retries=len(_STEP_WAITS),
        retry_delay_seconds=_STEP_WAITS,
        retry_condition_fn=lambda *_: not lasting,
        persist_result=False,
        cache_policy=NO_CACHE,
    )(bound)


def _title(step: Callable[..., Any]) -> str:
    return step.__name__.replace("_", " ")


class Tasks:
    """Runs each step as a task of the flow around it; the same functions as `pipeline.local.Local` calls."""

    def call(self, step: Callable[..., T], *given: Any) -> T:
        """Run one step as a task."""
        return _as_task(step, given, _title(step))().value

    def map(self, step: Callable[[Any], T], items: Sequence[Any]) -> list[T]:
        """Run a step once per item, a task each, some at the same time; the results come in the order of the items."""
        futures = [
            _as_task(step, (item,), f"{_title(step)} {position} of {len(items)}").submit()
            for position, item in enumerate(items, start=1)
        ]
        return [future.result().value for future in futures]


def _run_name() -> str:
    given = flow_run.parameters
    return f"{Path(given['workspace']).name}, {given['reason']}, {datetime.now(UTC):%Y-%m-%d %H:%M:%S} UTC"


def _threads() -> "TaskRunner[PrefectFuture[Any]]":
    runner: Any = ThreadPoolTaskRunner(max_workers=_AT_ONCE)
    return cast("TaskRunner[PrefectFuture[Any]]", runner)


def _finished(done: Outcome) -> "State[Outcome]":
    return Completed(message="; ".join([done.sentence, *done.problems]), data=done)


def drain() -> None:
    """Send what waits to be reported, so that nothing is left to complain once the server has gone."""
    for worker in (APILogWorker, EventsWorker):
        worker.drain_all(timeout=_DRAIN_SECONDS, at_exit=False)


def run_flow(
    workspace: Workspace,
    settings: Settings,
    pages: bool = True,
    progress: Progress | None = None,
    wait_seconds: float = 0,
) -> Outcome:
    """Run one pass as a flow, in this process.

    A server must stand (`pipeline.server.standing`), and this module be imported after it does.

    Raises
    ------
    StoreBusyError
        When another process is writing to this workspace, and still is after `wait_seconds`.
    """

    def walk(workspace: str, pages: bool, reason: str) -> "State[Outcome]":
        found = Workspace(Path(workspace))
        return _finished(one_pass(found, settings, Tasks(), progress, pages=pages, wait_seconds=wait_seconds))

    walk.__doc__ = "Take in what is new, read, store, derive, judge, publish, render."
    asked = flow(name=FLOW_NAME, flow_run_name=_run_name, task_runner=_threads(), persist_result=False)(walk)
    try:
        return cast(Outcome, asked(str(workspace.root), pages, "asked for"))
    finally:
        drain()


@flow(
    name=FLOW_NAME,
    flow_run_name=_run_name,
    task_runner=_threads(),
    retries=_PASS_TRIES,
    retry_delay_seconds=_PASS_WAIT,
    persist_result=False,
)
def served_pass(workspace: str, reason: str = "interval") -> "State[Outcome]":
    """Take in the files of the inbox that have settled, read, store, derive, judge, publish, render."""
    found = find(Path(workspace))
    try:
        done = one_pass(found, settings_of.load(found.root), Tasks(), only=settled.noted(found))
    except Exception as fault:
        _say(f"this pass failed: {type(fault).__name__}: {fault}")
        raise
    _say("; ".join([done.sentence, *done.problems]))
    return _finished(done)


def _say(line: str) -> None:
    sys.stderr.write(f"{datetime.now(UTC):%Y-%m-%d %H:%M:%S} UTC: {line}\n")
