"""The working store: one transaction takes in exports, rows and refusals, and exchanges results."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Self

import duckdb
import polars as pl

from schemas.describe import describe, describe_all
from warehouse import catalogue_tables, changes, ddl, history, migrations, touched, views, working
from warehouse import refusals as kept_refusals
from warehouse import series as long_series
from warehouse.errors import StoreVersionError
from warehouse.sql import count_of, fetch, listed, quoted, run, staged


class Store:
    """The working store of one workspace, open in this process alone.

    Every method that writes does so in the open transaction, or in one of its own if none is open.
    """

    def __init__(self, folder: Path, series_folder: Path) -> None:
        self.folder = folder
        self.series_folder = series_folder
        self.connection = working.connect(folder)
        self._in_transaction = False
        self._reread: set[str] = set()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the store; what was not committed is gone."""
        if self._in_transaction:
            self.rollback()
        self.connection.close()

    def reopen(self) -> None:
        """Open the store again after `close`."""
        self.connection = working.connect(self.folder)

    def begin(self) -> None:
        """Begin the transaction of a run, and remove parts of long series that a killed run left behind."""
        long_series.remove_orphans(self.connection, self.series_folder)
        self._begin()

    def _begin(self) -> None:
        self._reread = set()
        self.connection.begin()
        self._in_transaction = True

    def commit(self) -> None:
        """Keep everything since `begin`."""
        # A commit that fails ends the transaction, too.
        self._in_transaction = False
        self.connection.commit()

    def rollback(self) -> None:
        """Forget everything since `begin`; parts of long series it wrote are removed at the next `begin`."""
        self._in_transaction = False
        # After some faults DuckDB has ended the transaction by itself, and nothing is left to roll back.
        with suppress(duckdb.TransactionException):
            self.connection.rollback()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Run a block within the open transaction, or else in one of its own: all of it or nothing."""
        if self._in_transaction:
            yield
            return
        self.begin()
        try:
            yield
        except BaseException:
            self.rollback()
            raise
        self.commit()

    def refresh_views(self) -> None:
        """Make the views anew if this program has others than the store."""
        self._begin()
        try:
            views.refresh(self.connection)
        except BaseException:
            self.rollback()
            raise
        self.commit()

    def refresh_macros(self) -> None:
        """Make the macros for readers anew if the views have changed since."""
        self._begin()
        try:
            views.refresh_macros(self.connection)
        except BaseException:
            self.rollback()
            raise
        self.commit()

    def next_run(self) -> int:
        """Return the number of the next run: one more than any number the store holds."""
        numbers = [
            f"SELECT max({quoted(column.name)}) AS number FROM {quoted(table.name)}"
            for table in ddl.tables()
            for column in ddl.columns(table)
            if column.name == "run_id" or column.name.endswith("_run")
        ]
        return 1 + count_of(self.connection, f"SELECT coalesce(max(number), 0) FROM ({' UNION ALL '.join(numbers)})")

    def known(self, hashes: Iterable[str]) -> set[str]:
        """Return those of the hashes that belong to exports the store has taken in, whatever became of them."""
        with staged(self.connection, _hashes(hashes)) as asked:
            found = fetch(self.connection, f"SELECT export_hash FROM export SEMI JOIN {asked} USING (export_hash)")
        return set(found["export_hash"])

    def record_run(self, frame: pl.DataFrame) -> None:
        """Enter runs (columns of the result `run`); a run already entered is replaced."""
        self._upsert("run", frame)

    def count_arrivals(self, frame: pl.DataFrame) -> None:
        """Set how often known exports have arrived (columns `export_hash`, `arrivals`)."""
        with self.transaction(), staged(self.connection, frame) as counts:
            run(
                self.connection,
                f"UPDATE export SET arrivals = c.arrivals FROM {counts} AS c "
                "WHERE export.export_hash = c.export_hash AND export.arrivals <> c.arrivals",
            )

    def put(
        self, run_id: int, exports: pl.DataFrame, frames: Mapping[str, pl.DataFrame], refusals: pl.DataFrame
    ) -> None:
        """Take in exports with all that was read from them, and settle what is current.

        An export that is known is taken as read again: rows and refusals it no longer gives are closed, equal ones
        stay as they are. Arrival and first run of a known export stay; its name is given anew, for it
        stands for all it arrived under.

        Parameters
        ----------
        run_id
            Number of the run.
        exports
            One row per export that was read (columns of the result `export`).
        frames
            Accepted rows of these exports by record, long series included.
        refusals
            What was refused of them (columns of the result `refusal`, without its validity).

        Raises
        ------
        ValueError
            When a frame holds rows of an export that is not among `exports`.
        """
        _check_exports(exports, frames)
        again = self.known(exports["export_hash"])
        with self.transaction():
            self._reread |= again
            self._upsert("export", exports, kept=("size_bytes", "received_at", "run_id"))
            with staged(self.connection, exports.select("export_hash").unique()) as hashes:
                for name in _to_store(frames, bool(again)):
                    self._put_record(name, frames.get(name, pl.DataFrame()), hashes, run_id)
                kept_refusals.of_exports(self.connection, refusals, hashes, run_id)
            changes.record(self.connection, run_id)

    def _put_record(self, name: str, frame: pl.DataFrame, hashes: str, run_id: int) -> None:
        if describe(name).ties.storage == "series":
            long_series.store_series(self.connection, self.series_folder, name, frame, hashes, run_id)
        else:
            history.store_rows(self.connection, name, frame, hashes, run_id)

    def _upsert(self, name: str, frame: pl.DataFrame, kept: Collection[str] = ()) -> None:
        """Insert rows of a result without validity, or replace those of the same key but for the `kept` columns."""
        description = describe(name)
        columns, (key,) = list(description.schema()), description.ties.key
        chosen = ", ".join(
            f"coalesce({'o' if column in kept else 'n'}.{quoted(column)}, n.{quoted(column)}) AS {quoted(column)}"
            for column in columns
        )
        rows = history.shaped(frame, description).unique(key, keep="last")
        with self.transaction(), staged(self.connection, rows) as new:
            table, one = quoted(name), quoted(key)
            merged = fetch(self.connection, f"SELECT {chosen} FROM {new} AS n LEFT JOIN {table} AS o USING ({one})")
            run(self.connection, f"DELETE FROM {table} WHERE {one} IN (SELECT {one} FROM {new})")
            with staged(self.connection, merged) as whole:
                run(self.connection, f"INSERT INTO {table} ({listed(columns)}) SELECT {listed(columns)} FROM {whole}")

    def touched(self, run_id: int) -> pl.DataFrame:
        """Return in one column `sample_id` the samples whose results may differ after this run.

        These are the samples of all rows that entered or left, the samples of a mix or project that changed, and all
        that share project, mix and lot with one of them. To be called before `commit`.
        """
        return touched.samples(self.connection, run_id, self._reread)

    def opened(self, name: str, run_id: int) -> int:
        """Return how many rows of a record or result with validity entered in a run and still hold."""
        condition = "valid_from_run = ? AND valid_to_run IS NULL"
        return count_of(self.connection, f"SELECT count(*) FROM {quoted(name)} WHERE {condition}", [run_id])

    def current(self, record: str, sample_ids: pl.DataFrame | None = None) -> pl.DataFrame:
        """Return the current rows of a record kept as a table, ordered by its key.

        Parameters
        ----------
        record
            Name of the record or result.
        sample_ids
            Samples to keep to (column `sample_id`); without effect on a record that names no sample.
        """
        description = describe(record)
        dated = any(column.name == "valid_to_run" for column in ddl.columns(description))
        where = "WHERE valid_to_run IS NULL" if dated else ""
        order = listed(description.ties.key)
        query = f"SELECT {listed(description.schema())} FROM {quoted(record)} {{semi}} {where} ORDER BY {order}"
        if sample_ids is None or "sample_id" not in description.schema():
            return fetch(self.connection, query.format(semi=""))
        with staged(self.connection, sample_ids.select("sample_id").unique()) as subjects:
            return fetch(self.connection, query.format(semi=f"SEMI JOIN {subjects} USING (sample_id)"))

    def series(self, record: str, headers: pl.DataFrame) -> pl.DataFrame:
        """Return the rows of a long series for these header rows, ordered by header and key.

        Only the parts that hold them are read.

        Parameters
        ----------
        record
            A record kept as a series.
        headers
            Current header rows (`export_hash` and the header's key; `sample_id` for a computed series).
        """
        return long_series.read(self.connection, self.series_folder, record, headers)

    def replace(self, name: str, frame: pl.DataFrame, subjects: pl.DataFrame, run_id: int) -> None:
        """Make the current results of these samples what `frame` says; equal rows keep their validity.

        Parameters
        ----------
        name
            `property_value`, `judgement`, or a computed long series.
        frame
            All results that hold now for the subjects, without validity.
        subjects
            Samples computed anew (column `sample_id`), those that have no result any more included.
        run_id
            Run that closes what changed or vanished and opens what is new.

        Raises
        ------
        ValueError
            When `frame` has results of a sample that is not among the subjects.
        """
        strangers = frame.join(subjects, on="sample_id", how="anti") if frame.height else frame
        if not strangers.is_empty():
            raise ValueError(f"'{name}' has results of a sample that was not computed: {strangers['sample_id'][0]}")
        with self.transaction():
            if describe(name).ties.storage == "series":
                long_series.replace_series(self.connection, self.series_folder, name, frame, subjects, run_id)
                return
            with staged(self.connection, subjects.select("sample_id").unique()) as samples:
                scope = f"sample_id IN (SELECT sample_id FROM {samples})"
                history.replace_rows(self.connection, name, frame, scope, run_id)

    def replace_refusals(
        self, frame: pl.DataFrame, stages: Collection[str], subjects: pl.DataFrame | None, run_id: int
    ) -> None:
        """Make the current refusals of these stages what `frame` says; equal ones keep their validity.

        Parameters
        ----------
        frame
            All refusals that hold now (columns of the result `refusal`, without its validity).
        stages
            Stages they belong to.
        subjects
            Samples to keep to (column `sample_id`); None for all refusals of the stages.
        run_id
            Run that closes and opens them.
        """
        with self.transaction():
            kept_refusals.of_stages(self.connection, frame, stages, subjects, run_id)

    def describe_properties(self, properties: pl.DataFrame, flags: pl.DataFrame, columns: pl.DataFrame) -> None:
        """Keep the catalogue of properties and flags, and make the views anew if that changes them.

        Parameters
        ----------
        properties
            property, symbol, name, unit, decimals, standard, section, equation, level; one row per property.
        flags
            code, sentence, limit_text, source; one row per flag.
        columns
            Columns of the view `sample_results`, in the order they are to stand: property, at (null where the
            property has none), column_name, sentence, unit.
        """
        with self.transaction():
            catalogue_tables.keep_all(self.connection, properties, flags, columns)
            views.refresh(self.connection)

    def describe_formulas(self, formulas: pl.DataFrame, inputs: pl.DataFrame) -> None:
        """Add formulas to the catalogue, and what each takes in; those of earlier versions stay.

        Parameters
        ----------
        formulas
            Columns of the table `formula`.
        inputs
            Columns of the table `formula_input`.
        """
        with self.transaction():
            catalogue_tables.add_formulas(self.connection, formulas, inputs)


def _hashes(hashes: Iterable[str]) -> pl.DataFrame:
    return pl.DataFrame({"export_hash": list(hashes)}, schema={"export_hash": pl.String})


def _check_exports(exports: pl.DataFrame, frames: Mapping[str, pl.DataFrame]) -> None:
    for name, frame in frames.items():
        if not describe(name).imported:
            raise ValueError(f"'{name}' is not a record an importer gives")
        strangers = frame.join(exports, on="export_hash", how="anti") if frame.height else frame
        if strangers.height:
            raise ValueError(f"'{name}' has rows of an export that was not handed in: {strangers['export_hash'][0]}")


def _to_store(frames: Mapping[str, pl.DataFrame], again: bool) -> list[str]:
    """Return the records to go through: all of them where an export is read again, for it may give less than before."""
    imported = [each.name for each in describe_all() if each.imported]
    return imported if again else [name for name in imported if name in frames and frames[name].height]


def open_store(workspace_store: Path, series: Path) -> Store:
    """Open the working store; an empty one is made.

    Hold `lock.writer` around it.

    Parameters
    ----------
    workspace_store
        The workspace's store folder.
    series
        The workspace's folder of long series.

    Raises
    ------
    StoreBusyError
        When another process has it open.
    StoreVersionError
        When it was written by a newer mixledger, or by an older one and was not upgraded yet.
    StoreDamagedError
        When the file is no store.
    """
    workspace_store.mkdir(parents=True, exist_ok=True)
    series.mkdir(parents=True, exist_ok=True)
    store = Store(workspace_store, series)
    try:
        if not migrations.reached(store.connection):
            migrations.begin(store.connection)
        elif steps := migrations.owed(store.connection):
            raise StoreVersionError(
                f"The store was written by an earlier mixledger ({len(steps)} steps behind, first: {steps[0]}).",
                "Run `mixledger upgrade`; until then it is left as it is, and readers go on.",
            )
        store.refresh_views()
    except BaseException:
        store.close()
        raise
    return store


def upgrade_store(workspace_store: Path, series: Path) -> list[str]:
    """Bring the working store to this version; say what was done, nothing if nothing was owed.

    Hold `lock.writer` around it.

    Raises
    ------
    StoreVersionError
        When a newer mixledger wrote it, or it cannot be brought to the schemas of this one; it is left as it was.
    """
    store = Store(workspace_store, series)
    try:
        if not migrations.reached(store.connection) or not migrations.owed(store.connection):
            return []
        done = migrations.upgrade(store.connection)
        store.refresh_views()
    finally:
        store.close()
    return done
