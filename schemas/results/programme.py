"""Programme: the work list, and where the production of each mix stands."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import ItemKind, MixState, Purpose


class ProgrammeItem(pa.DataFrameModel):
    """One line of the work list: what is due, missing, late, invalid or doubtful."""

    kind: str = column("What it is about.", words=ItemKind)
    project_id: str = column("Project it concerns.", nullable=True)
    mix_id: str = column("Mix it concerns.", nullable=True)
    lot: str = column("Lot it concerns.", nullable=True)
    sample_id: str = column("Sample it concerns.", nullable=True)
    subject: str = column("Limit, plan, instrument, property or laboratory it concerns.", nullable=True)
    since: pl.Date = column("Day from which it has been so; null: not of a day.", nullable=True)
    due_on: pl.Date = column("Last day on which it is in time; null: at once.", nullable=True)
    sentence: str = column("What it is, in a sentence.")
    remedy: str = column("What to do.")
    valid_from_run: pl.Int64 = column("First run in which it stood.", at_least=1)
    valid_to_run: pl.Int64 = column("First run in which it no longer stood; null while it stands.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("kind", "project_id", "mix_id", "lot", "sample_id", "subject", "since", "valid_from_run"),
            refers={"project_id": "project", "mix_id": "mix_design"},
        ).as_metadata()


class MixEvent(pa.DataFrameModel):
    """One result in the life of a mix in production, and the state it left the mix in."""

    project_id: str = column("Project.")
    mix_id: str = column("Mix.")
    event_no: pl.Int64 = column("Place among the results of the mix, from 1.", at_least=1)
    taken_on: pl.Date = column("Day on which the sample was taken.")
    sample_id: str = column("Sample.")
    purpose: str = column("What it was taken for.", words=Purpose)
    out: bool = column("Whether a single result of it failed.")
    failed: str = column("Limits it failed, separated by spaces.", nullable=True)
    state: str = column("State of the mix after it.", words=MixState)
    valid_from_run: pl.Int64 = column("Run that computed it.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that replaced it; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("project_id", "mix_id", "event_no", "valid_from_run"),
            refers={"sample_id": "sample", "project_id": "project", "mix_id": "mix_design"},
        ).as_metadata()
