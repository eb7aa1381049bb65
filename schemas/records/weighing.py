"""Weighings: a mass with its role in a test method."""

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import MassRole, Method


class Weighing(Traced):
    """One mass read from a balance, with what it was weighed for."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Specimen, core or test portion within the sample.")
    method: str = column("Test method it was weighed for.", words=Method)
    role: str = column("What was weighed.", words=MassRole)
    sieve_mm: float = column(
        "Opening of the sieve for a mass retained; 0 is the pan.", unit="mm", at_least=0, at_most=125, nullable=True
    )
    mass_g: float = column("The mass.", unit="g", at_least=0, at_most=100_000)
    water_temperature_c: float = column(
        "Temperature of the bath or of the water in the container.", unit="°C", at_least=-5, at_most=100, nullable=True
    )
    residual_pressure_kpa: float = column(
        "Absolute pressure held under vacuum before this mass.", unit="kPa", at_least=0, at_most=110, nullable=True
    )
    vacuum_min: float = column("Time that pressure was held.", unit="min", at_least=0, at_most=10_000, nullable=True)
    instrument_id: str = column("Balance it was read from.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "method", "role", "sieve_mm"),
            refers={"sample_id": "sample", "instrument_id": "instrument"},
        ).as_metadata()
