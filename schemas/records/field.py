"""Field: cores cut from the pavement."""

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

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no"), refers={"sample_id": "sample"}, method=Method.T166.value
        ).as_metadata()
