"""Field: cores cut from the pavement, and densities read on it with a gauge."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import Method


class Core(Traced):
    """One core: where it was cut and how thick it is. Its weighings bear the same sample and specimen."""

    sample_id: str = column("Sample the core belongs to.")
    specimen_no: str = column("Core within the sample.")
    station_m: float = column("Distance along the project.", unit="m", nullable=True)
    offset_m: float = column("Distance from the reference line, left negative.", unit="m", nullable=True)
    lift: pl.Int64 = column("Lift, counted from below.", at_least=1, at_most=20, nullable=True)
    thickness_mm: float = column("Mean of the thickness readings.", unit="mm", above=0, at_most=1000, nullable=True)

    replaces: str = column("Core of the sample in whose place it was taken.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no"), refers={"sample_id": "sample"}, method=Method.T166.value
        ).as_metadata()


class GaugeReading(Traced):
    """One density read on the pavement with a gauge; a core cut at that place bears the same sample and number."""

    sample_id: str = column("Sample the place belongs to.")
    specimen_no: str = column("Place within the sample, and number of the core where one was cut.")
    reading: pl.Int64 = column("Number of the reading among those of the place, from 1.", at_least=1, at_most=100)
    station_m: float = column("Distance along the project.", unit="m", nullable=True)
    offset_m: float = column("Distance from the reference line, left negative.", unit="m", nullable=True)
    gauge_density_kg_m3: float = column("Density the gauge shows.", unit="kg/m³", above=500, at_most=4000)
    gauge_moisture_pct: float = column("Moisture the gauge shows.", unit="%", at_least=0, at_most=50, nullable=True)
    standard_count_density: float = column("Standard count of density that day.", above=0, nullable=True)
    standard_count_moisture: float = column("Standard count of moisture that day.", above=0, nullable=True)
    correlation_kg_m3: float = column(
        "Core correlation in force, to be added; used where the lot itself gives none.",
        unit="kg/m³",
        at_least=-500,
        at_most=500,
        nullable=True,
    )
    instrument_id: str = column("Gauge it was read with.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "reading"),
            refers={"sample_id": "sample", "instrument_id": "instrument"},
            method=Method.T355.value,
        ).as_metadata()
