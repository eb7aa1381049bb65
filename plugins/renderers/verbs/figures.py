"""Figures as text: fixed decimals, rounded half to even, with the decimal mark that is asked for."""

import polars as pl

from plugins.renderers.verbs.presentation import current, marked
from plugins.renderers.verbs.words import filled, word

#: Digits kept before rounding: takes away the noise of binary fractions (2.675 is stored as 2.67499…).
_NOISE_PLACES = 9
#: Decimals of a figure whose property states none.
_DEFAULT_DECIMALS = 3


def fixed(value: pl.Expr, decimals: pl.Expr) -> pl.Expr:
    """Return figures as text with a fixed number of decimals per row, rounded half to even.

    Parameters
    ----------
    value
        Figures; null stays null.
    decimals
        Decimals of each figure; null is three.

    Notes
    -----
    Rounding: ASTM E29, nearest value, exact halves to the even digit, on the decimal digits of the figure.
    Results come rounded already; this serves means, spreads and limits.
    """
    places = decimals.fill_null(_DEFAULT_DECIMALS).cast(pl.Int64)
    scaled = (value.abs() * pl.lit(10.0).pow(places)).round(_NOISE_PLACES).round(0)
    whole = scaled.cast(pl.Int64, strict=False)
    digits = whole.cast(pl.String).str.zfill(places + 1)
    split = digits.str.len_chars().cast(pl.Int64) - places
    sign = pl.when((value < 0) & (whole > 0)).then(pl.lit("−")).otherwise(pl.lit(""))
    point = pl.when(places > 0).then(pl.lit(current().decimal_mark)).otherwise(pl.lit(""))
    return pl.concat_str(sign, digits.str.slice(0, split), point, digits.str.slice(split))


def reported(text: pl.Expr) -> pl.Expr:
    """Return figures that came as text, as they are reported, with the decimal mark and minus sign of the pages."""
    return marked(text.str.replace("-", "−", literal=True))


def doubt(uncertainty: pl.Expr) -> pl.Expr:
    """Return standard uncertainties as text with two significant digits: ± 0.0024; null stays null."""
    return pl.concat_str(pl.lit("± "), plain(uncertainty.round_sig_figs(2)))


def plain(value: pl.Expr) -> pl.Expr:
    """Return figures as the shortest text that names them: 5, 0.075, 12.5."""
    text = value.round(_NOISE_PLACES).cast(pl.String).str.strip_suffix(".0")
    return marked(text.str.replace("-", "−", literal=True))


def limit_figure(value: pl.Expr, decimals: pl.Expr) -> pl.Expr:
    """Return a limit with the property's decimals, or with all its own where these would change it."""
    places = pl.lit(10.0).pow(decimals.fill_null(_DEFAULT_DECIMALS))
    exact = ((value * places).round(0) / places - value).abs() < 1e-9
    return pl.when(exact).then(fixed(value, decimals)).otherwise(plain(value))


def counted(number: int, noun: str) -> str:
    """Return a number with a noun of the group `count` of the catalogue: `1 sample`, `4 samples`."""
    return word(f"count.{noun}.{'one' if number == 1 else 'other'}", n=spaced(number))


def counted_each(number: pl.Expr, noun: str) -> pl.Expr:
    """Return numbers with their noun, as `counted` has it; null stays null."""
    one, other = (filled(f"count.{noun}.{form}", n=number.cast(pl.String)) for form in ("one", "other"))
    return pl.when(number == 1).then(one).otherwise(other)


def spaced(number: float) -> str:
    """Return a number with narrow spaces between thousands, without needless decimals: `20 000`, `0.075`."""
    text = f"{number:,.6f}".rstrip("0").rstrip(".")
    return text.replace(",", "\u202f").replace("-", "−").replace(".", current().decimal_mark)
