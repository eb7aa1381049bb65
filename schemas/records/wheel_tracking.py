"""Wheel tracking under water: the run and the depth along the track at each recorded pass."""

from typing import Any

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import Method, StopReason, Wheel


def _depth(position: int) -> Any:
    sentence = f"Depth at position {position} of 11 along the track."
    return column(sentence, unit="mm", at_least=-5, at_most=60, nullable=True)


class WheelRun(Traced):
    """One wheel of one wheel-tracking test (AASHTO T 324)."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Test within the sample; both wheels of a test share it.")
    wheel: str = column("Side of the machine.", words=Wheel)
    instrument_id: str = column("Wheel tracker.", nullable=True)
    passes: pl.Int64 = column("Last pass recorded.", at_least=1, at_most=200_000)
    passes_set: pl.Int64 = column("Passes the run was set to.", at_least=1, at_most=200_000, nullable=True)
    stop_reason: str = column("Why the run ended.", words=StopReason, nullable=True)
    wheel_load_n: float = column("Load on the wheel.", unit="N", above=0, at_most=2000, nullable=True)
    speed_per_min: float = column("Passes per minute.", unit="1/min", above=0, at_most=200, nullable=True)
    bath_set_c: float = column("Set point of the bath.", unit="°C", at_least=0, at_most=90, nullable=True)
    bath_mean_c: float = column("Mean bath temperature of the run.", unit="°C", at_least=0, at_most=90, nullable=True)
    bath_min_c: float = column("Lowest bath temperature of the run.", unit="°C", at_least=0, at_most=90, nullable=True)
    bath_max_c: float = column("Highest bath temperature of the run.", unit="°C", at_least=0, at_most=90, nullable=True)
    soak_time_min: float = column(
        "Time the specimens lay in the bath at its temperature before the run.",
        unit="min",
        at_least=0,
        at_most=10_000,
        nullable=True,
    )
    specimen_height_mm: float = column(
        "Height of the specimens under this wheel.", unit="mm", above=0, at_most=200, nullable=True
    )
    specimen_air_voids_pct: float = column(
        "Air voids of the specimens under this wheel.", unit="%", at_least=0, at_most=30, nullable=True
    )

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "wheel"),
            refers={"sample_id": "sample", "instrument_id": "instrument"},
            method=Method.T324.value,
        ).as_metadata()


class WheelDepth(Traced):
    """Depth of the rut at the measuring positions along the track, one row per recorded pass."""

    sample_id: str = column("Sample it belongs to, as labelled.")
    specimen_no: str = column("Test within the sample.")
    wheel: str = column("Side of the machine.", words=Wheel)
    wheel_pass: pl.Int64 = column("Pass of the wheel.", at_least=0, at_most=200_000)
    depth_01_mm: float = _depth(1)
    depth_02_mm: float = _depth(2)
    depth_03_mm: float = _depth(3)
    depth_04_mm: float = _depth(4)
    depth_05_mm: float = _depth(5)
    depth_06_mm: float = _depth(6)
    depth_07_mm: float = _depth(7)
    depth_08_mm: float = _depth(8)
    depth_09_mm: float = _depth(9)
    depth_10_mm: float = _depth(10)
    depth_11_mm: float = _depth(11)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "wheel", "wheel_pass"), storage="series", header="wheel_run"
        ).as_metadata()
