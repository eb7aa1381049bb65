"""Load tests: what was loaded and how, and the load against displacement."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import LOAD_TESTS, Conditioning, Method


class LoadTest(Traced):
    """One specimen brought to failure in a load frame, or squeezed in a stabilometer."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen within the sample.")
    method: str = column("Test method, which is the kind of test.", words=Method, among=LOAD_TESTS)
    instrument_id: str = column("Load frame or stabilometer.", nullable=True)
    specimen_diameter_mm: float = column("Diameter of the specimen.", unit="mm", above=0, at_most=500, nullable=True)
    specimen_thickness_mm: float = column(
        "Thickness (height) of the specimen.", unit="mm", above=0, at_most=500, nullable=True
    )
    notch_mm: float = column("Depth of the notch of a half disc.", unit="mm", at_least=0, at_most=100, nullable=True)
    strip_width_mm: float = column("Width of the loading strip.", unit="mm", above=0, at_most=100, nullable=True)
    air_voids_stated_pct: float = column(
        "Air voids of the specimen as the export states them.", unit="%", at_least=0, at_most=30, nullable=True
    )
    rate_mm_per_min: float = column(
        "Rate of loading the frame was set to.", unit="mm/min", above=0, at_most=1000, nullable=True
    )
    test_temperature_c: float = column(
        "Temperature of the specimen at the test.", unit="°C", at_least=-50, at_most=100, nullable=True
    )
    conditioning: str = column("Dry or conditioned, for moisture damage.", words=Conditioning, nullable=True)
    freeze_time_min: float = column("Time in the freezer.", unit="min", at_least=0, at_most=100_000, nullable=True)
    freeze_temperature_c: float = column(
        "Temperature of the freezer.", unit="°C", at_least=-80, at_most=20, nullable=True
    )
    thaw_time_min: float = column("Time in the hot bath.", unit="min", at_least=0, at_most=100_000, nullable=True)
    thaw_temperature_c: float = column(
        "Temperature of the hot bath.", unit="°C", at_least=0, at_most=100, nullable=True
    )
    soak_time_min: float = column(
        "Time in the bath at the test temperature.", unit="min", at_least=0, at_most=100_000, nullable=True
    )
    test_delay_s: float = column(
        "Time from taking the specimen out of the bath to its peak load.",
        unit="s",
        at_least=0,
        at_most=10_000,
        nullable=True,
    )
    stripping_rating: pl.Int64 = column(
        "Stripping of the broken faces by eye, 0 (none) to 5.", at_least=0, at_most=5, nullable=True
    )
    peak_load_stated_n: float = column(
        "Largest load as the export states it; counts where there is no trace.",
        unit="N",
        above=0,
        at_most=1_000_000,
        nullable=True,
    )
    flow_stated_mm: float = column(
        "Marshall flow as the export states it; counts where there is no trace.",
        unit="mm",
        at_least=0,
        at_most=50,
        nullable=True,
    )
    horizontal_pressure_kpa: float = column(
        "Horizontal pressure of the stabilometer at the vertical pressure that counts.",
        unit="kPa",
        at_least=0,
        at_most=5000,
        nullable=True,
    )
    displacement_turns: float = column(
        "Turns of the stabilometer's pump that raise its pressure from 5 to 100 psi.",
        at_least=0,
        at_most=20,
        nullable=True,
    )

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "method"), refers={"sample_id": "sample", "instrument_id": "instrument"}
        ).as_metadata()


class LoadPoint(Traced):
    """One reading of a load test."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen within the sample.")
    method: str = column("Test method.", words=Method, among=LOAD_TESTS)
    reading: pl.Int64 = column("Number of the reading, from 1.", at_least=1, at_most=1_000_000)
    time_s: float = column("Time since the first reading.", unit="s", at_least=0, at_most=100_000, nullable=True)
    displacement_mm: float = column("Displacement along the load.", unit="mm", at_least=-100, at_most=500)
    load_n: float = column("Load on the specimen.", unit="N", at_least=-10_000, at_most=1_000_000)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "method", "reading"), storage="series", header="load_test"
        ).as_metadata()
