"""Derived properties, long: one row per figure and period of validity."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import STEPPED, Level, Method


class PropertyValue(pa.DataFrameModel):
    """One derived figure, or the reason why there is none."""

    sample_id: str = column("Sample it describes.")
    level: str = column("Specimen or sample.", words=Level)
    method: str = column("Method of the specimen's record; null at sample level.", nullable=True)
    specimen_no: str = column("Specimen, core, portion or wheel; null at sample level.", nullable=True)
    property: str = column("Property, by its registry name.")
    point: float = column("Sieve opening in mm, gyrations or passes, where the property has one.", nullable=True)
    value: float = column("The figure, unrounded, in the property's unit; null where it was withheld.", nullable=True)
    withheld: str = column("Why there is no figure.", nullable=True)
    route: str = column("Formula that gave it, where a property has several.")
    formula_version: str = column("Hash of the formula's declaration.")
    flags: str = column("Codes of the validity checks that did not hold, separated by spaces.", nullable=True)
    n: pl.Int64 = column("Specimens that count in it.", at_least=0, nullable=True)
    spread: float = column("Standard deviation (n - 1) of those specimens.", at_least=0, nullable=True)
    uncertainty: float = column(
        "Standard uncertainty (k = 1) by the declared contributions, in the property's unit; null where none bears.",
        at_least=0,
        nullable=True,
    )
    parameters: str = column("Named choices it rests on, as JSON.", nullable=True)
    valid_from_run: pl.Int64 = column("Run that computed it.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that replaced it; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "level", "method", "specimen_no", "property", "point", "valid_from_run"),
            refers={"sample_id": "sample"},
        ).as_metadata()


class Densification(pa.DataFrameModel):
    """Corrected density of a specimen at each gyration."""

    sample_id: str = column("Sample it describes.")
    specimen_no: str = column("Specimen within the sample.")
    gyration: pl.Int64 = column("Gyration.", at_least=0)
    gmb_corrected: float = column("Corrected bulk specific gravity at this gyration.", above=0)
    gmm_pct: float = column("Density as a share of Gmm (%Gmm).", unit="%", above=0, nullable=True)
    valid_from_run: pl.Int64 = column("Run that computed it.", at_least=1)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "specimen_no", "gyration", "valid_from_run"), storage="series", header="property_value"
        ).as_metadata()


class StepDensity(pa.DataFrameModel):
    """Density and air voids of a specimen after each blow of the hammer, or tamp of the kneading foot."""

    sample_id: str = column("Sample it describes.")
    method: str = column("Test method, which is the kind of compaction.", words=Method, among=STEPPED)
    specimen_no: str = column("Specimen within the sample.")
    step: pl.Int64 = column("Blows on each face, or tamps, so far.", at_least=0)
    gmb_estimated: float = column("Bulk specific gravity by mass and mould.", above=0, nullable=True)
    gmb_corrected: float = column("Bulk specific gravity, corrected to the weighed one.", above=0, nullable=True)
    gmm_pct: float = column("Density as a share of Gmm (%Gmm).", unit="%", above=0, nullable=True)
    air_voids_pct: float = column("Air voids.", unit="%", nullable=True)
    valid_from_run: pl.Int64 = column("Run that computed it.", at_least=1)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "method", "specimen_no", "step", "valid_from_run"),
            storage="series",
            header="property_value",
        ).as_metadata()
