"""Markup from columns: every value is escaped unless its name says that it is markup already."""

import html
import re
from collections.abc import Sequence

import polars as pl
from markupsafe import Markup

from plugins.renderers.verbs.words import filled, pieces, word

_ESCAPES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}
#: Control characters have no place in HTML; a visible stand-in shows that there was one.
_CONTROLS = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\x{FFFE}\x{FFFF}]"
_CONTROLS_OF_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff]")
_GAP = re.compile(r"\{(\w+)\}")


def escape(value: pl.Expr) -> pl.Expr:
    """Return the value as text that HTML shows as it stands, in content and in quoted attributes; null is empty."""
    text = value.cast(pl.String).fill_null("").str.replace_many(list(_ESCAPES), list(_ESCAPES.values()))
    return text.str.replace_all(_CONTROLS, "\ufffd")


def printable(text: str) -> str:
    """Return one text with visible stand-ins for control characters, for what does not go through `escape`."""
    return _CONTROLS_OF_TEXT.sub("\ufffd", text)


def css_string(text: str) -> str:
    """Return a text as a string of a style sheet, in which nothing can end the string or the sheet."""
    shown = "".join(each if each.isalnum() and each.isascii() else f"\\{ord(each):06x}" for each in printable(text))
    return f'"{shown}"'


def own_words(text: str) -> str:
    """Return a text as a piece of a pattern of `fill`: escaped, unless it was; braces would be taken for gaps."""
    escaped = text if isinstance(text, Markup) else html.escape(printable(text))
    return Markup(escaped.replace("{", "(").replace("}", ")"))  # noqa: S704


def clipped(value: pl.Expr, limit: int) -> pl.Expr:
    """Return the text, cut to `limit` characters with a note of its full length where it is longer."""
    size = value.str.len_chars()
    short = filled("text.clipped", start=value.str.slice(0, limit), size=size.cast(pl.String))
    return pl.when(size > limit).then(short).otherwise(value)


def fill(pattern: str, **parts: pl.Expr) -> pl.Expr:
    """Fill the gaps of a pattern of markup, row by row of a whole column.

    Parameters
    ----------
    pattern
        Markup with gaps `{name}`. A gap takes the expression of that name, else the column of that name.
        What it takes is escaped, unless the name ends with `_html`: such a column holds markup made by `fill`.
    parts
        Expressions for gaps.

    Returns
    -------
    pl.Expr
        Text column; null values leave their gap empty.
    """
    pieces = _GAP.split(pattern)
    built = []
    for position, piece in enumerate(pieces):
        if position % 2 == 0:
            built.append(pl.lit(piece))
            continue
        value = parts.get(piece, pl.col(piece))
        built.append(value.fill_null("") if piece.endswith("_html") else escape(value))
    return pl.concat_str(built)


def phrase(name: str, **parts: pl.Expr) -> pl.Expr:
    """Return a text of the catalogue as markup for each row, its gaps filled; null values leave their gap empty.

    Parameters
    ----------
    name
        Name of the text.
    parts
        Expression for each gap: escaped; one whose name is that of the gap with `_html` holds markup made by `fill`.
    """
    built = []
    for position, piece in enumerate(pieces(word(name))):
        if position % 2 == 0:
            built.append(pl.lit(own_words(piece)))
        elif piece in parts:
            built.append(escape(parts[piece]))
        else:
            built.append(parts[f"{piece}_html"].fill_null(""))
    return pl.concat_str(built)


def given(column: str | pl.Expr, markup: pl.Expr) -> pl.Expr:
    """Return the markup where the column holds something, else nothing."""
    value = pl.col(column) if isinstance(column, str) else column
    there = value.is_not_null() & (value.cast(pl.String) != "")
    return pl.when(there).then(markup).otherwise(pl.lit(""))


def gathered(frame: pl.DataFrame, by: Sequence[str], column: str, between: str = "") -> pl.DataFrame:
    """Join the markup of each owner's rows, in the order of the rows: columns `by` and `column`."""
    return frame.group_by(by, maintain_order=True).agg(pl.col(column).drop_nulls().str.join(between))


def by_owner(frame: pl.DataFrame, owner: str, column: str) -> dict[str, str]:
    """Return owner -> markup of all its rows, in the order of the rows."""
    joined = gathered(frame, [owner], column)
    return dict(zip(joined[owner].to_list(), joined[column].to_list(), strict=True))
