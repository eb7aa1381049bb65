"""The bare script the backfill is held against: polars read + DuckDB insert; no checks, no lineage, no figures.

Called as `python -m tests.benchmarks.bare INBOX DATABASE`.
"""

import json
import sys
from collections import defaultdict
from pathlib import Path

import duckdb
import polars as pl


def journal(path: Path) -> dict[str, pl.DataFrame]:
    frame = pl.read_csv(
        path, separator=";", skip_rows=3, encoding="windows-1252", decimal_comma=True, comment_prefix="End"
    )
    return {"weighing": frame.cast(pl.String)}


def slip(path: Path) -> dict[str, pl.DataFrame]:
    lines = path.read_text().splitlines()
    pairs = [(line[:15].strip(), line[15:].strip()) for line in lines if not line.startswith("+")]
    return {"slip": pl.DataFrame(pairs, schema=["label", "value"], orient="row")}


def report(path: Path) -> dict[str, pl.DataFrame]:
    text = path.read_text()
    header, _, table = text.partition("\n\n")
    values = dict(line.split(" = ", 1) for line in header.splitlines()[1:])
    rows = [line.split() for line in table.splitlines()[1:-1]]
    heights = pl.DataFrame(rows, schema=["gyration", "height"], orient="row").cast(pl.Float64)
    return {
        "run": pl.DataFrame([values]),
        "height": heights.with_columns(sample=pl.lit(values["sample"]), piece=pl.lit(values["piece"])),
    }


def press(path: Path) -> dict[str, pl.DataFrame]:
    given = json.loads(path.read_text())
    run = given["specimen"] | given["settings"]
    heights = pl.DataFrame({"height": given["heights_mm"]}).with_row_index("gyration").cast(pl.Float64)
    return {
        "run": pl.DataFrame([{key: str(value) for key, value in run.items()}]),
        "height": heights.with_columns(sample=pl.lit(run["sample"]), piece=pl.lit(run["piece"])),
    }


def track(path: Path) -> dict[str, pl.DataFrame]:
    text = path.read_text(encoding="utf-8-sig").splitlines()
    start = next(number for number, line in enumerate(text) if line.startswith("pass\t"))
    frame = pl.read_csv(path, separator="\t", skip_rows=start)
    return {"track": frame.cast(pl.Float64).with_columns(sample=pl.lit(text[3].split("\t")[1]))}


READERS = {
    "balance_journal": journal,
    "balance_slip": slip,
    "press_report": report,
    "press_json": press,
    "track_table": track,
}


def main(inbox: Path, database: Path) -> None:
    gathered: dict[str, list[pl.DataFrame]] = defaultdict(list)
    for folder, reader in READERS.items():
        for path in sorted((inbox / folder).iterdir()) if (inbox / folder).is_dir() else []:
            for name, frame in reader(path).items():
                gathered[name].append(frame)
    with duckdb.connect(str(database)) as connection:
        for name, frames in gathered.items():
            together = pl.concat(frames, how="diagonal")
            connection.register("together", together.to_arrow())
            connection.execute(f"create table {name} as select * from together")
            connection.unregister("together")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
