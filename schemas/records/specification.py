"""Specification sets: the limits of a contract, each with its source."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import Basis, Material, Phase


class SpecificationLimit(Traced):
    """One limit of a specification set."""

    set_id: str = column("Specification set it belongs to; projects name it.")
    limit_id: str = column("Name of the limit within the set.")
    property: str = column("Property it limits, by its registry name.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    phase: str = column("Phase it holds for; null is every phase.", words=Phase, nullable=True)
    material: str = column("Material it holds for.", words=Material)
    nmas_mm: float = column("Nominal maximum size it holds for; null is every size.", unit="mm", above=0, nullable=True)
    basis: str = column("Absolute, or around the mix-design target.", words=Basis)
    lower: float = column("Lower limit, in the property's unit; null is none.", nullable=True)
    upper: float = column("Upper limit, in the property's unit; null is none.", nullable=True)
    required: bool = column("Whether a sample without this result is listed as missing it.")
    excluding_flags: str = column(
        "Validity flags that keep a result from being judged, separated by spaces.", nullable=True
    )
    source: str = column("Where the limit stands: document, section, table.")
    mark: str = column("How far the source was confirmed; null is seen in print.", nullable=True)
    valid_from: pl.Date = column("First day on which the limit holds.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("set_id", "limit_id")).as_metadata()
