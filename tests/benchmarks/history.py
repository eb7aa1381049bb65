"""Ten years of laboratories: `python -m tests.benchmarks.history [--full]`: the questions, a publication, peak memory.

Without `--full` a hundredth of the size. Figures are synthetic; they go through the store as those of the pipeline do.
"""

import argparse
import resource
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl

from pipeline import settings, state, workspace
from pipeline.update import describe_catalogue
from pipeline.workspace import Workspace
from plugins.manager import fingerprint
from schemas.describe import describe
from tests.benchmarks.season import Size, periods, register
from tests.support import run
from warehouse import questions
from warehouse.publish import publish
from warehouse.read import connect, query
from warehouse.store import Store, open_store

FULL = Size(years=10, laboratories=25, samples=250_000, wheel_runs=20_000, heights=100, depths=200)
SMALL = replace(FULL, years=2, samples=2_500, wheel_runs=200, heights=20, depths=50)

#: The demo's export that is dropped as the one new: its sample's label is changed to one of the synthetic samples.
_EXPORT = Path(__file__).parents[2] / "sample_exports" / "balance_journal" / "HB-1-20260414.csv"
_LABEL = "HB-0001"


@contextmanager
def timed(what: str) -> Iterator[None]:
    """Print how long a block took, on the clock and on the processors, and the peak memory so far."""
    began, worked = time.perf_counter(), time.process_time()
    yield
    wall, cpu = time.perf_counter() - began, time.process_time() - worked
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{what:<48} {wall:8.2f} s   processor {cpu:8.2f} s   peak memory {peak:6.0f} MB", flush=True)


def _exports(hashes: pl.Series, run_id: int, importer: str) -> pl.DataFrame:
    names = hashes.unique().sort()
    fixed = {"size_bytes": 1000, "arrivals": 1, "run_id": run_id, "rows_accepted": 10, "rows_refused": 0}
    columns = {
        **{name: pl.lit(value) for name, value in fixed.items()},
        "name": pl.format("{}.csv", "export_hash"),
        "received_at": pl.lit(datetime(2016, 1, 1) + timedelta(days=91 * run_id)),
        "state": pl.lit("read"),
        "importer": pl.lit(importer),
        "importer_version": pl.lit("1"),
    }
    frame = pl.DataFrame({"export_hash": names}).with_columns(**columns)
    return frame.select(pl.col(name).cast(dtype) for name, dtype in describe("export").schema().items())


def _run(run_id: int) -> pl.DataFrame:
    at = datetime(2016, 1, 1) + timedelta(days=91 * run_id)
    row = {"run_id": run_id, "started_at": at, "finished_at": at, "version": "0", "importers": "x"}
    return pl.DataFrame(
        [row | dict.fromkeys(("exports_new", "rows_accepted", "rows_refused"), 0)], schema=describe("run").schema()
    )


def fill(at: Workspace, size: Size) -> None:
    """Fill the store of a workspace: a run per quarter, each correcting one in a hundred figures of the one before."""
    none = pl.DataFrame(schema=describe("refusal").schema())
    with open_store(at.store, at.series) as store:
        describe_catalogue(store)
        with store.transaction():
            opening = register(size)
            store.put(1, _exports(pl.Series(["register"]), 1, "register_book"), opening, none)
            store.record_run(_run(1))
        before = None
        for period in periods(size):
            run_id = period.number + 2
            with store.transaction():
                exports = _exports(period.samples["export_hash"], run_id, "balance_journal")
                store.put(run_id, exports, period.frames, none)
                subjects = period.samples.select("sample_id")
                store.replace("property_value", period.values, subjects, run_id)
                store.replace("judgement", period.judgements, subjects, run_id)
                if before is not None:
                    _correct(store, before, run_id)
                store.record_run(_run(run_id))
            before = period.values
        publish(store)
        marks = state.State(0, fingerprint(at.importers), state.derivation(settings.load(at.root)), run_id, run_id)
    state.save(at, marks)


def _correct(store: Store, values: pl.DataFrame, run_id: int) -> None:
    chosen = values.select("sample_id").unique().sort("sample_id").gather_every(100)
    moved = values.join(chosen, on="sample_id", how="semi").with_columns(value=pl.col("value") * 1.001)
    store.replace("property_value", moved, chosen, run_id)


def ask(at: Workspace) -> float:
    """Ask every question once in a fresh connection each; return the slowest."""
    slowest = 0.0
    for each in questions.shipped():
        with connect(at.root) as connection:
            began = time.perf_counter()
            rows = query(connection, each.query, None, 60)
            taken = time.perf_counter() - began
        slowest = max(slowest, taken)
        print(f"  {each.name:<46} {taken:8.3f} s   {rows.height} rows", flush=True)
    return slowest


def one_export(at: Workspace, number: int) -> None:
    """Take in one new export of a known sample, through the whole pipeline without pages."""
    text = _EXPORT.read_text(encoding="cp1252").replace(_LABEL, f"X{number:07d}")
    (at.inbox / f"one-{number}.csv").write_text(
        text.replace("2026-04-14 17:40", f"2026-04-{number % 28 + 1:02d} 17:40"), encoding="cp1252"
    )
    done = run(at)
    assert done.exports == 1, done


def main() -> None:
    """Fill, ask, publish; print what each took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="ten years, 25 laboratories, 250,000 samples")
    parser.add_argument("--samples", type=int, help="another number of samples")
    parser.add_argument("--keep", type=Path, help="folder to keep the workspace in; used again if it is there")
    given = parser.parse_args()
    size = FULL if given.full else SMALL
    size = replace(size, samples=given.samples) if given.samples else size
    folder = given.keep or Path(tempfile.mkdtemp())
    fresh = not (folder / "lab").exists()
    at = workspace.create(folder / "lab")
    if fresh:
        print(f"{size}, begun {datetime.now(UTC):%Y-%m-%d %H:%M} UTC")
        with timed("filling"):
            fill(at, size)
    _measure(at)
    if given.keep is None:
        shutil.rmtree(folder)


def _measure(at: Workspace) -> None:
    with connect(at.root) as connection:
        counts = query(connection, _COUNTS, None, 60)
    print(counts.to_dicts()[0])
    published = sum(path.stat().st_size for path in (at.store / "published").glob("*")) / 1e6
    parts = sum(path.stat().st_size for path in at.series.rglob("*.parquet")) / 1e6
    print(f"published copies {published:.0f} MB, series {parts:.0f} MB")
    with timed("all questions, one after the other"):
        print(f"  slowest question {ask(at):.3f} s")
    begun = int(time.time()) % 1_000_000
    for number in range(3):
        with timed("one new export taken in and published"):
            one_export(at, (begun + 7 * number) % 1000)
    with open_store(at.store, at.series) as store, timed("publishing alone, nothing changed"):
        publish(store)


_COUNTS = """
    select (select count(*) from property_value) as figures, (select count(*) from sample) as samples,
           (select count(*) from compaction_run) as gyratory_runs, (select count(*) from wheel_run) as wheel_runs,
           (select count(*) from weighing) as weighings, (select count(*) from judgement) as judgements
"""

if __name__ == "__main__":
    main()
