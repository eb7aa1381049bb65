"""Frames whose columns hold every value by itself, so that a figure is the same alone and among others."""

import polars as pl


def spelt_out(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the frame without columns kept as one value for all rows.

    A join with a table of one row leaves such columns, and polars divides by them through the reciprocal: a sample
    derived beside others of its mix would differ in the last digit from the same sample derived alone.
    """
    return pl.DataFrame(frame.get_columns())
