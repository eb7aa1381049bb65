"""Binder content: how a mixture was burnt, and weighings on the way to constant mass."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import Method, Purpose


class IgnitionBurn(Traced):
    """One test portion burnt in an ignition furnace (AASHTO T 308). Its weighings bear the same sample and specimen."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Test portion within the sample.")
    instrument_id: str = column("Furnace.", nullable=True)
    purpose: str = column("A test, or a calibration with a mixture of known binder content.", words=Purpose)
    pb_known_pct: float = column(
        "Binder content a calibration mixture was made with.", unit="%", above=0, at_most=15, nullable=True
    )
    furnace_set_c: float = column("Set point of the furnace.", unit="°C", above=0, at_most=900, nullable=True)
    end_change_pct: float = column(
        "Change of mass in the last minute, of the mass of the mixture.",
        unit="%",
        at_least=0,
        at_most=100,
        nullable=True,
    )
    burn_time_min: float = column("Time in the furnace.", unit="min", at_least=0, at_most=1000, nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no"),
            refers={"sample_id": "sample", "instrument_id": "instrument"},
            method=Method.T308.value,
        ).as_metadata()


class DryingWeighing(Traced):
    """One weighing on the way to constant mass (AASHTO T 329): container with the sample, after so long in the oven."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen or test portion within the sample.")
    method: str = column("Test method it was dried for.", words=Method)
    reading: pl.Int64 = column("Number of the weighing, from 1.", at_least=1, at_most=1000)
    mass_g: float = column("Mass of the container with the sample.", unit="g", above=0, at_most=100_000)
    dried_min: float = column("Time in the oven so far.", unit="min", at_least=0, at_most=100_000, nullable=True)
    oven_temperature_c: float = column("Temperature of the oven.", unit="°C", at_least=0, at_most=400, nullable=True)
    instrument_id: str = column("Balance it was read from.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "method", "reading"),
            refers={"sample_id": "sample", "instrument_id": "instrument"},
        ).as_metadata()
