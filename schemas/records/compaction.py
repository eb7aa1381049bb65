"""Gyratory compaction: the run and the height at each gyration."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import Method, StopRule


class CompactionRun(Traced):
    """One gyratory compaction of one specimen (AASHTO T 312)."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen within the sample.")
    instrument_id: str = column("Compactor.", nullable=True)
    stop_rule: str = column("What ends the compaction.", words=StopRule)
    gyrations: pl.Int64 = column("Gyrations applied.", at_least=1, at_most=2000)
    pressure_kpa: float = column("Mean ram pressure.", unit="kPa", above=0, at_most=2000, nullable=True)
    angle_deg: float = column("Internal angle of gyration.", unit="°", above=0, at_most=3, nullable=True)
    speed_per_min: float = column("Gyrations per minute.", unit="1/min", above=0, at_most=120, nullable=True)
    mass_g: float = column("Mass of mixture in the mould.", unit="g", above=0, at_most=20_000, nullable=True)
    mould_diameter_mm: float = column("Inside diameter of the mould.", unit="mm", above=50, at_most=200, nullable=True)
    mix_temperature_c: float = column(
        "Temperature of the mixture at compaction.", unit="°C", at_least=0, at_most=250, nullable=True
    )

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no"),
            refers={"sample_id": "sample", "instrument_id": "instrument"},
            method=Method.T312.value,
        ).as_metadata()


class CompactionHeight(Traced):
    """Height of the specimen at one gyration."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen within the sample.")
    gyration: pl.Int64 = column("Gyration; 0 is the loose height.", at_least=0, at_most=2000)
    height_mm: float = column("Height of the specimen.", unit="mm", above=0, at_most=500)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "gyration"), storage="series", header="compaction_run"
        ).as_metadata()
