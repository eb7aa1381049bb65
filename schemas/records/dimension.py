"""Dimensions: a length read with a caliper, a rule or from a scale, with what it was read for."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import LengthRole, Method


class Dimension(Traced):
    """One length read by hand or by a gauge, with what it was read for."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen, core or test portion within the sample.")
    method: str = column("Test method it was read for.", words=Method)
    role: str = column("What was read.", words=LengthRole)
    reading: pl.Int64 = column("Number of the reading among those of its role, from 1.", at_least=1, at_most=1000)
    length_mm: float = column("The length.", unit="mm", at_least=0, at_most=2000)
    instrument_id: str = column("Caliper or gauge it was read from.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "method", "role", "reading"),
            refers={"sample_id": "sample", "instrument_id": "instrument"},
        ).as_metadata()
