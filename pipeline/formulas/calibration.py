"""AASHTO R 18: whether the instruments were in calibration on the day; holds for every figure read on one."""

import polars as pl

from pipeline.formulas.model import FROM_MEMORY, Check
from schemas.vocabulary import Method

#: Raised while figures are derived, from the register's calibrations: see `pipeline.derive.calibrated`.
LAPSED = Check(
    code="calibration_lapsed",
    sentence="an instrument it was read on was out of calibration on the day",
    inputs=(),
    holds=lambda: pl.lit(None, pl.Boolean),
    limit="last accepted calibration neither past its due day nor older than the interval of the settings, and no "
    "rejected one since",
    source="AASHTO R 18, intervals of calibration",
    mark=FROM_MEMORY,
)
#: Methods whose instrument shapes all their figures, those that are read elsewhere as well.
MADE_ON = (Method.T312, Method.T324, Method.T308)
