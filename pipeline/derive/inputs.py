"""What a derivation takes in: the current rows of the touched samples, record by record."""

from dataclasses import dataclass, fields

import polars as pl

from schemas.describe import describe


@dataclass(frozen=True)
class Inputs:
    """Current rows of the touched samples; every frame has at least the columns of its record.

    For a core, the loose-mix samples of the same project, mix and lot must be among the samples: their Gmm is
    what it is compared with. `mix_design`, `mix_gradation` and `stockpile` hold all revisions of their mixes.
    """

    sample: pl.DataFrame
    mix_design: pl.DataFrame
    mix_gradation: pl.DataFrame
    stockpile: pl.DataFrame
    weighing: pl.DataFrame
    compaction_run: pl.DataFrame
    compaction_height: pl.DataFrame
    wheel_run: pl.DataFrame
    wheel_depth: pl.DataFrame
    core: pl.DataFrame
    instrument: pl.DataFrame
    calibration: pl.DataFrame
    load_test: pl.DataFrame
    load_point: pl.DataFrame
    dimension: pl.DataFrame
    ignition_burn: pl.DataFrame
    drying_weighing: pl.DataFrame
    gauge_reading: pl.DataFrame
    impact_run: pl.DataFrame
    impact_height: pl.DataFrame

    @classmethod
    def of(cls, **frames: pl.DataFrame) -> "Inputs":
        """Take the frames given by record name; records left out have no rows."""
        empty = {field.name: pl.DataFrame(schema=describe(field.name).schema()) for field in fields(cls)}
        return cls(**(empty | frames))
