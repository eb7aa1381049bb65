"""Impact and kneading compaction: how a specimen was made, and its height after each step."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import STEPPED, Method


class ImpactRun(Traced):
    """One specimen compacted by a falling hammer (AASHTO T 245) or a kneading foot (AASHTO T 247)."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen within the sample.")
    method: str = column("Test method, which is the kind of compaction.", words=Method, among=STEPPED)
    instrument_id: str = column("Compactor.", nullable=True)
    steps: pl.Int64 = column("Blows on each face, or tamps in all.", at_least=1, at_most=2000)
    hammer_mass_g: float = column("Mass of the hammer.", unit="g", above=0, at_most=50_000, nullable=True)
    drop_mm: float = column("Height the hammer falls from.", unit="mm", above=0, at_most=2000, nullable=True)
    foot_pressure_kpa: float = column(
        "Pressure of the kneading foot at the end.", unit="kPa", above=0, at_most=20_000, nullable=True
    )
    mass_g: float = column("Mass of mixture in the mould.", unit="g", above=0, at_most=20_000, nullable=True)
    mould_diameter_mm: float = column("Inside diameter of the mould.", unit="mm", above=50, at_most=200, nullable=True)
    mix_temperature_c: float = column(
        "Temperature of the mixture at compaction.", unit="°C", at_least=0, at_most=250, nullable=True
    )

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "method"), refers={"sample_id": "sample", "instrument_id": "instrument"}
        ).as_metadata()


class ImpactHeight(Traced):
    """Height of the specimen after one step of its compaction."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen within the sample.")
    method: str = column("Test method.", words=Method, among=STEPPED)
    step: pl.Int64 = column("Blows on each face, or tamps, so far.", at_least=0, at_most=2000)
    height_mm: float = column("Height of the specimen.", unit="mm", above=0, at_most=500)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "method", "step"), storage="series", header="impact_run"
        ).as_metadata()
