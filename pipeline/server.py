"""The orchestrator's server: the one configured, or a child of ours on loopback that goes when we go."""

import _thread
import os
import runpy
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.orchestrator import configured
from pipeline.workspace import Workspace

HOST = "127.0.0.1"
USUAL_PORT = 4200
#: Beside the lock of the server's owner: where the server answers.
_ADDRESS = "address"
START_SECONDS = 120.0
STOP_SECONDS = 6.0

#: Nothing leaves the machine; nobody pays for a temporary server by accident.
_ALWAYS = {
    "DO_NOT_TRACK": "1",
    "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
    "PREFECT_SERVER_EPHEMERAL_ENABLED": "false",
}

#: What a user may set otherwise. Tracebacks go to the run's log in the orchestrator, not to the user's terminal.
_UNLESS_SET = {
    "PREFECT_LOGGING_HANDLERS_CONSOLE_LEVEL": "CRITICAL",
    "PREFECT_SERVER_UI_SHOW_PROMOTIONAL_CONTENT": "false",
    "PREFECT_CLI_PROMPT": "false",
}


class ServeError(RuntimeError):
    """No server to report to, or the workspace cannot be served; the message says what to do."""


@dataclass(frozen=True)
class Standing:
    """A server that answers.

    Attributes
    ----------
    api_url
        Where the flow reports to.
    pages_url
        Where a browser shows the run history.
    child
        The server's process where it is ours, else None.
    log
        What our child wrote.
    """

    api_url: str
    pages_url: str
    child: "subprocess.Popen[bytes] | None" = None
    log: Path | None = None

    def check(self) -> None:
        """Raise `ServeError` when a server of ours has ended."""
        if self.child is not None and self.child.poll() is not None:
            raise ServeError(f"The Prefect server has ended by itself ({_last_line(self.log)}). Start again.")


def quieten() -> None:
    """Switch telemetry and noise off, for this process and its children; call before the orchestrator is imported."""
    os.environ.update(_ALWAYS)
    for name, value in _UNLESS_SET.items():
        os.environ.setdefault(name, value)


def _last_line(log: Path | None) -> str:
    if log is None or not log.is_file():
        return "it left no log"
    lines = [line.strip() for line in log.read_text(encoding="utf-8", errors="replace").splitlines() if line.strip()]
    return f"last line of {log}: {lines[-1]}" if lines else f"{log} is empty"


def _answers(api_url: str) -> bool:
    """Return whether something speaks HTTP there; loopback is asked without a proxy."""
    local = api_url.startswith((f"http://{HOST}", "http://localhost"))
    handlers = [urllib.request.ProxyHandler({})] if local else []
    try:
        with urllib.request.build_opener(*handlers).open(f"{api_url.rstrip('/')}/health", timeout=10):
            return True
    except urllib.error.HTTPError:
        return True  # it is there, and wants a key that the orchestrator's own client will give
    except (OSError, ValueError):
        return False


def port_is_free(port: int) -> bool:
    """Return whether a server could listen on this port of loopback."""
    with socket.socket() as probe:
        if os.name != "nt":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError:
            return False
    return True


def any_port() -> int:
    """Return a port of loopback that is free now."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


def _choose(port: int | None) -> int:
    if port is None:
        return USUAL_PORT if port_is_free(USUAL_PORT) else any_port()
    if not port_is_free(port):
        raise ServeError(
            f"Port {port} of {HOST} is in use by another program. "
            "Name a free one with --port, or leave --port out and one is found."
        )
    return port


@contextmanager
def standing(
    workspace: Workspace,
    port: int | None = None,
    *,
    temporary: bool = False,
    say: Callable[[str], None] = lambda _: None,
) -> Iterator[Standing]:
    """Provide a server: the one PREFECT_API_URL names, else a child whose database lies below the workspace.

    Parameters
    ----------
    port
        Port for a child; None finds one.
    temporary
        The server is wanted for one run only: take any port, and share the server that `serve` runs here, if any.
    say
        Told in one line when a child is started, because that takes a while.

    Raises
    ------
    ServeError
        When the configured one does not answer, the port is taken, or the child does not come up.
    """
    quieten()
    home = workspace.store / "orchestrator"
    home.mkdir(parents=True, exist_ok=True)
    lock = FileLock(home / "lock", timeout=0)
    if temporary and configured():
        yield _configured(port)
        return
    try:
        lock.acquire()
    except Timeout:
        with _reporting(home, _shared(workspace, home / _ADDRESS, temporary)) as shared:
            yield shared
        return
    try:
        with _configured_or_child(home, port, temporary, say) as found:
            yield found
    finally:
        lock.release()


@contextmanager
def _configured_or_child(
    home: Path, port: int | None, temporary: bool, say: Callable[[str], None]
) -> Iterator[Standing]:
    if configured():
        yield _configured(port)
        return
    chosen = any_port() if temporary else _choose(port)
    say("starting a Prefect server on loopback (10 to 20 s); its database lies in store/orchestrator")
    address = home / _ADDRESS
    with child(home, chosen) as started:
        address.write_text(started.api_url, encoding="utf-8")
        try:
            with _reporting(home, started):
                yield started
        finally:
            address.unlink(missing_ok=True)


def _configured(port: int | None) -> Standing:
    url = os.environ["PREFECT_API_URL"]
    if port is not None:
        raise ServeError(
            f"--port is for a server of our own, but PREFECT_API_URL names {url}. Leave one of the two out."
        )
    if not _answers(url):
        raise ServeError(
            f"The Prefect API at {url} (PREFECT_API_URL) does not answer. "
            "Start that server, mend the address, or unset PREFECT_API_URL to work without it."
        )
    return Standing(url, os.environ.get("PREFECT_UI_URL") or url.rstrip("/").removesuffix("/api"))


def _shared(workspace: Workspace, address: Path, temporary: bool) -> Standing:
    url = address.read_text(encoding="utf-8") if address.is_file() else ""
    if not temporary:
        where = f" (run history at {url.removesuffix('/api')})" if url else ""
        raise ServeError(
            f"{workspace.root} is served already by another process{where}. End that one, or leave it to its work."
        )
    if not url or not _answers(url):
        raise ServeError(
            f"Another process is starting or stopping a server for {workspace.root}. Try again in a minute."
        )
    return Standing(url, url.removesuffix("/api"))


@contextmanager
def _reporting(home: Path, server: Standing) -> Iterator[Standing]:
    """Point this process and its children at a server, and put the environment back afterwards."""
    given = {"PREFECT_API_URL": server.api_url, "PREFECT_HOME": str(home)}
    before = {name: os.environ.get(name) for name in given}
    os.environ.update(given)
    try:
        yield server
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def child(home: Path, port: int) -> Iterator[Standing]:
    """Run a server as a child that ends with us, even when we are killed: it watches the pipe to its parent."""
    log = home / "server.log"
    environment = os.environ | {"PREFECT_HOME": str(home)}
    with log.open("wb") as out:
        child = subprocess.Popen(  # noqa: S603 - our own interpreter and module
            [sys.executable, "-m", "pipeline.server", str(port)],
            stdin=subprocess.PIPE,
            stdout=out,
            stderr=subprocess.STDOUT,
            env=environment,
            start_new_session=True,  # Ctrl-C in the terminal is for us, who end it in its turn
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )
    try:
        server = Standing(f"http://{HOST}:{port}/api", f"http://{HOST}:{port}", child, log)
        _await(server)
        yield server
    finally:
        _stop(child)


def _await(server: Standing) -> None:
    deadline = time.monotonic() + START_SECONDS
    while not _answers(server.api_url):
        if server.child is not None and server.child.poll() is not None:
            raise ServeError(f"The Prefect server could not be started ({_last_line(server.log)}).")
        if time.monotonic() > deadline:
            raise ServeError(
                f"The Prefect server did not come up within {START_SECONDS:.0f} s ({_last_line(server.log)}). "
                "Start again when the machine is less busy."
            )
        time.sleep(0.2)


def _stop(child: "subprocess.Popen[bytes]") -> None:
    if child.stdin is not None:
        child.stdin.close()
    try:
        child.wait(STOP_SECONDS)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def _end_with_parent() -> None:
    sys.stdin.buffer.read()  # returns once the parent closes its end, or is gone
    if signal.getsignal(signal.SIGTERM) is signal.SIG_DFL:
        os._exit(1)  # still starting: there is nothing to close, and nobody who would hear the signal
    _thread.interrupt_main(signal.SIGTERM)
    time.sleep(STOP_SECONDS)
    os._exit(1)


def main() -> None:
    """Be the server: `python -m pipeline.server PORT`, with standard input held open by the parent."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    sys.argv = ["prefect", "server", "start", "--host", HOST, "--port", sys.argv[1]]
    runpy.run_module("prefect", run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main()
