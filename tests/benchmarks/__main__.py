"""Run the benchmarks: `python -m tests.benchmarks [EXPORTS …]` (default 2000 20000). Prints ratios, not verdicts."""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.scenario import bulk

ROOT = Path(__file__).parents[2]
PYTHON = sys.executable
MIXLEDGER = [PYTHON, "-c", "from pipeline.cli.group import main; main()"]
ENVIRONMENT = {key: value for key, value in os.environ.items() if key != "PREFECT_API_URL"} | {"PYTHONPATH": str(ROOT)}


@dataclass(frozen=True)
class Taken:
    """Wall time and peak memory of one child process."""

    seconds: float
    megabytes: float


def take(command: list[str], allowed: tuple[int, ...] = (0,)) -> Taken:
    started = time.perf_counter()
    child = subprocess.Popen(command, env=ENVIRONMENT, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = child.stderr.read() if child.stderr else b""
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in allowed:
        sys.exit(f"{command} ended with {child.returncode}: {said.decode()[-2000:]}")
    return Taken(time.perf_counter() - started, usage.ru_maxrss / 1024)


def run(workspace: Path, *options: str) -> Taken:
    return take([*MIXLEDGER, "-w", str(workspace), "run", "--quiet", *options], allowed=(0, 1))


def middle(measure: Callable[[], Taken], times: int) -> float:
    return statistics.median(measure().seconds for _ in range(times))


def say(what: str, ours: float, other: float, named: str) -> None:
    print(f"{what:<58} {ours:8.2f} s   {named} {other:8.2f} s   ratio {ours / other:5.2f}", flush=True)


def backfill(folder: Path, exports: int) -> Path:
    """Fill a workspace and hold it against the bare script on the same files."""
    workspace = folder / f"backfill-{exports}"
    take([*MIXLEDGER, "init", str(workspace)])
    bulk.write(workspace / "inbox", exports)
    bare = take(
        [PYTHON, "-m", "tests.benchmarks.bare", str(workspace / "inbox"), str(folder / f"bare-{exports}.duckdb")]
    )
    ours = run(workspace, "--no-pages")
    say(f"backfill of {exports} exports to the warehouse", ours.seconds, bare.seconds, "bare script")
    pages = run(workspace)
    say(
        f"  the same with all its pages ({pages.seconds:.1f} s of pages)",
        ours.seconds + pages.seconds,
        bare.seconds,
        "bare script",
    )
    print(f"  peak memory {ours.megabytes:.0f} MB storing, {pages.megabytes:.0f} MB rendering", flush=True)
    return workspace


def nothing_new(workspace: Path, exports: int) -> None:
    imports = middle(lambda: take([PYTHON, "-c", "import polars, duckdb"]), 7)
    idle = middle(lambda: run(workspace), 7)
    say(f"run with nothing new, {exports} exports", idle, imports, "bare imports")


def one_export(workspace: Path, number: int, *options: str) -> float:
    """Add one export that no other run has seen and time the pass that takes it in."""
    source = sorted((workspace / "inbox" / "balance_journal").iterdir())[0]
    text = source.read_bytes().replace(b"Written;2026", f"Written;{2100 + number}".encode())
    (workspace / "inbox" / "balance_journal" / f"one-more-{number}.txt").write_bytes(text)
    return run(workspace, *options).seconds


def compare_one_export(folder: Path, large: Path, exports: int) -> None:
    small = folder / "small"
    take([*MIXLEDGER, "init", str(small)])
    bulk.write(small / "inbox", 30)
    run(small)
    times = {"small": [], "large": []}
    for number in range(1, 6):
        times["small"].append(one_export(small, number))
        times["large"].append(one_export(large, number))
    ours, other = (statistics.median(times[size]) for size in ("large", "small"))
    say(f"one new export into {exports} against into 30, with pages", ours, other, "small")


def main(sizes: list[int]) -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        help_time = middle(lambda: take([*MIXLEDGER, "--help"]), 7)
        print(f"mixledger --help {help_time:.2f} s")
        for exports in sizes:
            workspace = backfill(folder, exports)
            nothing_new(workspace, exports)
            if exports == max(sizes):
                compare_one_export(folder, workspace, exports)
            shutil.rmtree(workspace)


if __name__ == "__main__":
    main([int(given) for given in sys.argv[1:]] or [2_000, 20_000])
