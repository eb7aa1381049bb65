"""Random sampling: the places drawn for a lot, stored as they were drawn."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import PlaceKind


class SamplingPlace(Traced):
    """One place of a random sampling plan (ASTM D3665)."""

    draw_id: str = column("Name of the draw.", caution="The contractor must not see places before they are sampled.")
    place_no: pl.Int64 = column("Place within the draw, from 1.", at_least=1)
    place_kind: str = column("Tonnage or core.", words=PlaceKind)
    project_id: str = column("Project.")
    mix_id: str = column("Mix.")
    lot: str = column("Lot.")
    sublot: str = column("Sublot.")
    random_1: float = column("First random number, 0 to 1.", at_least=0, at_most=1)
    random_2: float = column("Second random number, 0 to 1; cores only.", at_least=0, at_most=1, nullable=True)
    tonnage_t: float = column("Tonnage at which the sample is to be taken.", unit="t", at_least=0, nullable=True)
    station_m: float = column("Distance along the project.", unit="m", nullable=True)
    offset_m: float = column("Distance from the reference line, left negative.", unit="m", nullable=True)
    seed: pl.Int64 = column("Seed of the generator.", at_least=0)
    generator: str = column("Generator and version that drew it.")
    drawn_by: str = column("Who drew it.", nullable=True)
    redraw_of: str = column("Draw it takes the place of.", nullable=True)
    reason: str = column("Why it was drawn again.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("draw_id", "place_no")).as_metadata()
