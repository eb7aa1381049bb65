"""Keeps a workspace running: a pass at an interval, and one whenever files of the inbox have settled."""

import asyncio
import hashlib
import re
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from pipeline import intake, server, settled

server.quieten()  # before the import below, or its telemetry is on

from prefect.client.orchestration import PrefectClient, get_client  # noqa: E402
from prefect.client.schemas.filters import (  # noqa: E402
    DeploymentFilter,
    DeploymentFilterId,
    FlowRunFilter,
    FlowRunFilterState,
    FlowRunFilterStateType,
)
from prefect.client.schemas.objects import StateType  # noqa: E402
from prefect.runner import Runner  # noqa: E402
from prefect.states import Crashed  # noqa: E402
from prefect.types.entrypoint import EntrypointType  # noqa: E402

from pipeline.flow import drain, served_pass  # noqa: E402
from pipeline.settings import Settings  # noqa: E402
from pipeline.workspace import Workspace  # noqa: E402

_LOOK_SECONDS = 1.0
_POLL_SECONDS = 2.0
_STOP_SECONDS = 4.0
#: A run asked for that has not begun after so long is given up; the next one takes its files.
_BEGIN_SECONDS = 120.0
_UNFINISHED = [StateType.SCHEDULED, StateType.PENDING, StateType.RUNNING, StateType.PAUSED, StateType.CANCELLING]

Say = Callable[[str], None]


def deployment_name(workspace: Workspace) -> str:
    """Return the name of the deployment: the folder's name, made unique by where it lies."""
    readable = re.sub(r"[^\w.-]+", "-", workspace.root.name) or "workspace"
    return f"{readable}-{hashlib.sha256(str(workspace.root).encode()).hexdigest()[:8]}"


def serve(workspace: Workspace, settings: Settings, standing: server.Standing, say: Say) -> None:
    """Serve until SIGINT or SIGTERM.

    A server must stand (`pipeline.server.standing`), and this module be imported after it does.

    Raises
    ------
    ServeError
        When the server is lost.
    """
    try:
        asyncio.run(_Service(workspace, settings, standing, say).run())
    finally:
        drain()


class _Inbox:
    """Tells which new files have settled; the journal is read again only when it has grown."""

    def __init__(self, workspace: Workspace, settle_seconds: float) -> None:
        self._workspace = workspace
        self._watch = settled.Watch(settle_seconds)
        self._journal_size = -1
        self._known: list[intake.Arrival] = []
        self._noted: frozenset[intake.Sighting] | None = None

    def look(self) -> frozenset[intake.Sighting]:
        journal = self._workspace.journal
        size = journal.stat().st_size if journal.exists() else 0
        if size != self._journal_size:
            self._known, self._journal_size = intake.journal(self._workspace), size
        ready = self._watch.look(intake.unseen(self._workspace, self._known))
        if ready != self._noted:
            settled.note(self._workspace, ready)
            self._noted = ready
        return ready


class _Service:
    """The deployment, the runner that executes its runs one at a time, and the watch over the inbox."""

    def __init__(self, workspace: Workspace, settings: Settings, standing: server.Standing, say: Say) -> None:
        self._workspace = workspace
        self._settings = settings
        self._standing = standing
        self._say = say
        self._inbox = _Inbox(workspace, settings.intake.settle_seconds)
        self._asked: frozenset[intake.Sighting] = frozenset()
        self._asked_run: UUID | None = None
        self._asked_at = 0.0

    async def run(self) -> None:
        runner = Runner(
            name="mixledger", limit=1, query_seconds=_POLL_SECONDS, prefetch_seconds=1, pause_on_shutdown=True
        )
        async with get_client() as client:
            deployment = await self._deploy(runner)
            await _close_left_over(client, deployment)
            working = asyncio.create_task(runner.start())
            while not runner.started and not working.done():
                await asyncio.sleep(0.05)
            with _stop_signals() as stop:
                self._say(f"serving {self._workspace.root}; run history: {self._standing.pages_url}/runs")
                try:
                    await self._ask(client, deployment, "start")
                    await self._keep_watch(client, deployment, stop, working)
                finally:
                    self._say("stopping")
                    await _end(runner, working)

    async def _deploy(self, runner: Runner) -> UUID:
        deployment = await served_pass.ato_deployment(
            name=deployment_name(self._workspace),
            interval=self._settings.serve.interval_seconds,
            parameters={"workspace": str(self._workspace.root)},
            description=f"Passes over {self._workspace.root}",
            tags=["mixledger"],
            entrypoint_type=EntrypointType.MODULE_PATH,
        )
        return await runner.aadd_deployment(deployment)

    async def _ask(self, client: PrefectClient, deployment: UUID, reason: str) -> None:
        run = await client.create_flow_run_from_deployment(
            deployment, parameters={"workspace": str(self._workspace.root), "reason": reason}
        )
        self._asked_run, self._asked_at = run.id, time.monotonic()

    async def _keep_watch(
        self, client: PrefectClient, deployment: UUID, stop: threading.Event, working: "asyncio.Task[None]"
    ) -> None:
        while not stop.is_set():
            self._standing.check()
            if working.done():
                raise server.ServeError(f"The Prefect server was lost ({working.exception()}). Start again.")
            began = time.monotonic()
            ready = await asyncio.to_thread(self._inbox.look)
            await self._ask_for(client, deployment, ready)
            # A very large inbox takes long to look through; then look less often.
            pause = max(_LOOK_SECONDS, 5 * (time.monotonic() - began))
            await asyncio.to_thread(stop.wait, pause)

    async def _ask_for(self, client: PrefectClient, deployment: UUID, ready: frozenset[intake.Sighting]) -> None:
        """Ask for a run when files have settled that no run was asked for yet; one run waits at most."""
        self._asked &= ready
        fresh = ready - self._asked
        if not fresh:
            return
        try:
            if await self._under_way(client):
                return
            await self._ask(client, deployment, "files have settled")
        except Exception as fault:  # the server may be busy or away for a moment; the next look tries again
            self._note(f"no run could be asked for: {type(fault).__name__}: {fault}")
            return
        self._note("1 file has settled" if len(fresh) == 1 else f"{len(fresh)} files have settled")
        self._asked = ready

    def _note(self, line: str) -> None:
        self._say(f"{datetime.now(UTC):%Y-%m-%d %H:%M:%S} UTC: {line}")

    async def _under_way(self, client: PrefectClient) -> bool:
        """Return whether the run asked for last is still waiting or running."""
        if self._asked_run is None:
            return False
        state = (await client.read_flow_run(self._asked_run)).state
        if state is None or state.is_final():
            return False
        return state.is_running() or time.monotonic() - self._asked_at < _BEGIN_SECONDS


async def _close_left_over(client: PrefectClient, deployment: UUID) -> None:
    """Mark the runs that an earlier `serve` left unfinished: nobody executes them any more."""
    state: dict[str, Any] = {"type": FlowRunFilterStateType(any_=_UNFINISHED)}
    runs = await client.read_flow_runs(
        flow_run_filter=FlowRunFilter(state=FlowRunFilterState(**state)),
        deployment_filter=DeploymentFilter(id=DeploymentFilterId(any_=[deployment])),
    )
    now = datetime.now(UTC)
    for run in runs:
        if run.expected_start_time is None or run.expected_start_time <= now:
            await client.set_flow_run_state(run.id, Crashed(message="`serve` ended before this run did"), force=True)


@contextmanager
def _stop_signals() -> Iterator[threading.Event]:
    """Provide an event that SIGINT and SIGTERM set; the runner's own handling is put aside meanwhile."""
    stop = threading.Event()
    numbers = (signal.SIGINT, signal.SIGTERM)
    before = [signal.signal(number, lambda *_: stop.set()) for number in numbers]
    try:
        yield stop
    finally:
        for number, handler in zip(numbers, before, strict=True):
            signal.signal(number, handler)


async def _end(runner: Runner, working: "asyncio.Task[None]") -> None:
    """Stop the runner; a pass under way is asked to end, then made to (the store takes all of a pass or nothing)."""
    if not working.done():
        try:
            await asyncio.wait_for(runner.astop(), _STOP_SECONDS)
        except (TimeoutError, RuntimeError):
            working.cancel()
    await asyncio.wait([working], timeout=_STOP_SECONDS)
