"""Control charts: one result with the lines it is held against."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties


class ChartPoint(pa.DataFrameModel):
    """One production result on the control charts of its mix."""

    project_id: str = column("Project.")
    mix_id: str = column("Mix.")
    property: str = column("Property charted.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    sample_id: str = column("Sample.")
    taken_on: pl.Date = column("Day on which it was taken.")
    place_no: pl.Int64 = column("Place in the series, from 1.", at_least=1)
    value: float = column("The result, unrounded.")
    target: float = column("Mix-design target; null: none.", nullable=True)
    centre: float = column("Mean of the series.")
    sigma: float = column("Standard deviation by the mean moving range / 1.128.", at_least=0, nullable=True)
    moving_range: float = column("Difference from the result before.", at_least=0, nullable=True)
    lower_control: float = column("Lower limit of individuals, 3 sigma.", nullable=True)
    upper_control: float = column("Upper limit of individuals, 3 sigma.", nullable=True)
    range_control: float = column("Upper limit of the moving range.", nullable=True)
    moving_average: float = column("Mean of the last four results.", nullable=True)
    average_lower: float = column("Lower limit of the moving average.", nullable=True)
    average_upper: float = column("Upper limit of the moving average.", nullable=True)
    ewma: float = column("Exponentially weighted moving average.", nullable=True)
    ewma_lower: float = column("Its lower limit.", nullable=True)
    ewma_upper: float = column("Its upper limit.", nullable=True)
    signals: str = column("Run rules it breaks, separated by spaces; null for none.", nullable=True)
    published: str = column(
        "Published limits it lies beyond: action, suspension, action_of_4 …, separated by spaces.", nullable=True
    )
    first_signal: bool = column("Whether it is the first result of the series with a signal or beyond a limit.")
    valid_from_run: pl.Int64 = column("Run that computed it.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that replaced it; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("project_id", "mix_id", "property", "point", "sample_id", "valid_from_run"),
            refers={"sample_id": "sample", "project_id": "project", "mix_id": "mix_design"},
        ).as_metadata()
