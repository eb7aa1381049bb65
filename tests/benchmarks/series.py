"""Long raw series: `python -m tests.benchmarks.series [TESTS]`: size beside the same numbers in Parquet, questions.

By default 2,000 wheel tests of two wheels, 20,000 passes and eleven positions: 880 million depths. They are synthetic,
with noise of 0.02 mm, and go through the store as those of the pipeline do.
"""

import argparse
import shutil
import tempfile
import time
from pathlib import Path

import polars as pl

from pipeline import workspace
from pipeline.workspace import Workspace
from tests.benchmarks.history import fill, timed
from tests.benchmarks.season import Size
from warehouse.read import connect, query

_QUESTIONS = {
    "deepest rut of each test at pass 10,000": """
        select sample_id, max(greatest(depth_04_mm, depth_05_mm, depth_06_mm, depth_07_mm, depth_08_mm)) as deepest
        from wheel_depth where wheel_pass = 10000 group by sample_id order by deepest desc""",
    "mean depth by position at the end of each year": """
        select year(r.issued_at) as year, avg(d.depth_01_mm), avg(d.depth_06_mm), avg(d.depth_11_mm)
        from wheel_depth d join wheel_run r using (sample_id, specimen_no, wheel)
        where d.wheel_pass = r.passes group by 1 order by 1""",
    "the whole course of one wheel, long": """
        select wheel_pass, position, depth_mm from wheel_depths
        where sample_id = (select min(sample_id) from wheel_run) and wheel = 'left' order by wheel_pass, position""",
}


def sizes(at: Workspace, beside: Path) -> tuple[int, int, int, int]:
    """Return the number of depths, and bytes: as stored, as 64-bit numbers and as whole hundredths in zstd Parquet."""
    depths = [f"depth_{place:02d}" for place in range(1, 12)]
    counted = stored = wide = whole = 0
    for number, part in enumerate(sorted((at.series / "wheel_depth").glob("*.parquet"))):
        steps = pl.read_parquet(part, columns=[f"{name}_steps" for name in depths])
        counted += steps.height * steps.width
        stored += part.stat().st_size
        plain, hundredths = beside / f"{number}.parquet", beside / f"{number}-whole.parquet"
        steps.select(pl.all() / 100.0).write_parquet(plain, compression="zstd")
        steps.select(pl.all().cast(pl.Int16)).write_parquet(hundredths, compression="zstd")
        wide, whole = wide + plain.stat().st_size, whole + hundredths.stat().st_size
        plain.unlink()
        hundredths.unlink()
    return counted, stored, wide, whole


def main() -> None:
    """Fill, compare, ask; print what each took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("tests", type=int, nargs="?", default=2000)
    runs = 2 * parser.parse_args().tests
    folder = Path(tempfile.mkdtemp())
    at = workspace.create(folder / "lab")
    with timed("filling"):
        fill(at, Size(years=10, laboratories=5, samples=2 * runs, wheel_runs=runs, heights=2, depths=20_001))
    counted, stored, wide, whole = sizes(at, folder)
    print(
        f"{counted:,} depths, stored in {stored / 1e6:.0f} MB with keys and places, {stored / counted:.2f} byte a depth"
    )
    print(f"  {stored / wide:.2f} x the depths alone as 64-bit numbers in zstd Parquet ({wide / 1e6:.0f} MB)")
    print(f"  {stored / whole:.2f} x the depths alone as 16-bit hundredths in zstd Parquet ({whole / 1e6:.0f} MB)")
    for what, asked in _QUESTIONS.items():
        with connect(at.root) as connection:
            began = time.perf_counter()
            rows = query(connection, asked, None, 60)
            print(f"  {what:<48} {time.perf_counter() - began:8.3f} s   {rows.height} rows", flush=True)
    shutil.rmtree(folder)


if __name__ == "__main__":
    main()
