"""Layouts against polars alone: `python -m tests.benchmarks.reading [EXPORTS [PASSES]]`, by default 2,000 and 20,000.

Ours: recognition by every shipped importer, reading and validation in batches. The other side: polars parses the same
tables and nothing else, file by file as it must, without header values, checks or lines. Both read warm files, in turn,
nine times each; the middle counts, of the time on the wall and of the processor time of all threads: others at work
on the machine lengthen the first, and hardly the second.
"""

import io
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import polars as pl

from pipeline import reading
from plugins.api import Export, Importer
from plugins.manager import load
from tests.scenario import bulk
from tests.scenario.formats import track

_FOLDERS = ("balance_journal", "press_report", "track_table")


def _incoming(paths: list[Path]) -> list[reading.Incoming]:
    return [reading.Incoming(Export.from_path(path), (path.name,), "1970-01-01T00:00:00.000000") for path in paths]


def ours(incoming: list[reading.Incoming], importers: Sequence[Importer]) -> int:
    """Recognise, read and validate; return the number of rows accepted."""
    batches, refused = reading.recognise(incoming, importers, 1 << 40)
    assert refused.refusals.is_empty()
    done = [reading.read(batch) for batch in batches]
    return sum(frame.height for one in done for frame in one.frames.values())


def alone(paths: list[Path]) -> int:
    """Parse the tables with polars, nothing else; return the number of rows."""
    return sum(_table(path).height for path in paths)


def _table(path: Path) -> pl.DataFrame:
    content = path.read_bytes()
    if path.parent.name == "balance_journal":
        body = content[content.index(b"No;") : content.rindex(b"End;")]
        return pl.read_csv(io.BytesIO(body), separator=";", encoding="windows-1252", decimal_comma=True)
    if path.parent.name == "press_report":
        body = content[content.index(b"gyration  ") : content.rindex(b"end ")].replace(b"  ", b"\t")
        return pl.read_csv(io.BytesIO(body), separator="\t")
    return pl.read_csv(io.BytesIO(content[content.index(b"pass\t") :]), separator="\t")


def compare(title: str, paths: list[Path], limit: float) -> None:
    """Print both times and their ratios."""
    incoming, importers = _incoming(paths), load().importers
    ours(incoming[:1], importers)
    times = [(*_timed(lambda: alone(paths)), *_timed(lambda: ours(incoming, importers))) for _ in range(9)]
    bare, bare_cpu, own, own_cpu = (statistics.median(each) for each in zip(*times, strict=True))
    print(f"{title} (limit {limit:g})")
    print(f"  wall       layouts {own:7.3f} s   polars alone {bare:7.3f} s   ratio {own / bare:5.2f}")
    print(f"  processor  layouts {own_cpu:7.3f} s   polars alone {bare_cpu:7.3f} s   ratio {own_cpu / bare_cpu:5.2f}")


def _timed(work: Callable[[], int]) -> tuple[float, float]:
    """Return the time on the wall and the processor time the work takes."""
    wall, processor = time.perf_counter(), time.process_time()
    assert work() > 0
    return time.perf_counter() - wall, time.process_time() - processor


def wheel_file(folder: Path, passes: int) -> Path:
    """Write one wheel test with a reading at every pass: `passes` lines of 22 depths."""
    rng = np.random.default_rng(324)
    from datetime import datetime

    depths = [np.round(np.cumsum(rng.uniform(0, 0.001, (passes, 11)), axis=0), 2) for _ in range(2)]
    numbers = np.arange(1, passes + 1)
    when = datetime(2026, 5, 7, 9)
    head = ("QL-WT1", when, when, "QL-0001", "1", passes, "passes", (703.0, 703.0), 50.0, 50.0, 52.0, (7.0, 7.0))
    path = folder / "track_table" / "long.tsv"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(track.table(track.Track(*head, numbers, *depths)))
    return path


def main(exports: int = 2_000, passes: int = 20_000) -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        bulk.write(folder, 3 * exports)
        every = [path for name in _FOLDERS for path in sorted((folder / name).iterdir())]
        # Evenly over all formats: the wheel tests stand last.
        small = [every[at * len(every) // exports] for at in range(exports)]
        tracks = sum(path.parent.name == "track_table" for path in small)
        compare(f"{len(small)} small exports ({tracks} of wheel tests)", small, 2)
        compare(f"one wheel file, {passes} x 22", [wheel_file(folder, passes)], 3)


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:]))
