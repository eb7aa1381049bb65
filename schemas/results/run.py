"""Runs of the pipeline, the exports they took in and the parts of the long series."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import ExportState


class Run(pa.DataFrameModel):
    """One pass over the inbox that changed the warehouse."""

    run_id: pl.Int64 = column("Number of the run, from 1.", at_least=1)
    started_at: pl.Datetime("us") = column("When it started, UTC.")  # type: ignore[valid-type]
    finished_at: pl.Datetime("us") = column("When its rows were stored, UTC.", nullable=True)  # type: ignore[valid-type]
    version: str = column("Version of mixledger.")
    importers: str = column("Fingerprint of the importers and schemas it read with.")
    exports_new: pl.Int64 = column("Exports taken in.", at_least=0)
    rows_accepted: pl.Int64 = column("Rows accepted.", at_least=0)
    rows_refused: pl.Int64 = column("Rows and files refused.", at_least=0)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("run_id",)).as_metadata()


class Export(pa.DataFrameModel):
    """One distinct export: bytes kept under their hash."""

    export_hash: str = column("SHA-256 of the bytes.")
    name: str = column("File name it first arrived under.", caution="Given by whoever wrote the file: untrusted text.")
    size_bytes: pl.Int64 = column("Size.", unit="byte", at_least=0)
    received_at: pl.Datetime("us") = column("When it first arrived, UTC.")  # type: ignore[valid-type]
    arrivals: pl.Int64 = column(
        "Different files of the inbox that held these bytes: more than one is a duplicate.", at_least=1
    )
    run_id: pl.Int64 = column("Run that took it in.", at_least=1)
    importer: str = column("Importer that read it.", nullable=True)
    importer_version: str = column("Version or hash of that importer.", nullable=True)
    state: str = column("What became of it.", words=ExportState)
    rows_accepted: pl.Int64 = column("Rows accepted from it.", at_least=0)
    rows_refused: pl.Int64 = column("Rows refused, or 1 where the whole file was.", at_least=0)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("export_hash",), refers={"run_id": "run"}).as_metadata()


class SeriesPart(pa.DataFrameModel):
    """One immutable Parquet file of a long series."""

    record: str = column("Record whose rows it holds.")
    file: str = column("Path of the file below the workspace's series folder.")
    run_id: pl.Int64 = column("Run that wrote it.", at_least=1)
    row_count: pl.Int64 = column("Rows in it.", at_least=0)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("file",), refers={"run_id": "run"}).as_metadata()


class SeriesExport(pa.DataFrameModel):
    """Which part of the long series holds the rows of an export."""

    record: str = column("Record whose rows it holds.")
    export_hash: str = column("Export the rows came from.")
    file: str = column("Part that holds them.")
    valid_from_run: pl.Int64 = column("Run that stored them.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that read the export again; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("record", "export_hash", "valid_from_run"), refers={"export_hash": "export", "file": "series_part"}
        ).as_metadata()
