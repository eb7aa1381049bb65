"""The page around the sections: head, style, date of the figures, cautions."""

import base64
import hashlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
import polars as pl
from markupsafe import Markup

from plugins.renderers.verbs.markup import fill, gathered, printable
from plugins.renderers.verbs.tables import take

_TEMPLATES = Path(__file__).parent.parent / "templates"

#: Shown on every page.
CAUTIONS = (
    "Results support the judgement of the licensed engineer and never replace it, nor the agency's own specification "
    "and edition of the test method. Built-in limits are examples, to be replaced by those of the contract.",
    "Hot mix, moulds and ovens burn; wheel trackers and compactors crush; solvents and furnace fumes harm: the makers' "
    "guards, the laboratory's safety plan and local rules come first.",
)


def _finalised(value: Any) -> Any:
    # Markup was made by the verbs, which have seen to it.
    return printable(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@cache
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_finalised,
    )


@cache
def style() -> str:
    """Return the one style sheet of all pages."""
    return (_TEMPLATES / "style.css").read_text(encoding="utf-8")


@cache
def _script(name: str) -> tuple[str, str]:
    """Return one of our own scripts and its hash, by which a page allows that script and no other."""
    text = (_TEMPLATES / name).read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
    return text, f"sha256-{digest}"


def as_of(tables: Mapping[str, pl.DataFrame]) -> str:
    """Return in words which run the figures are from, and how they are rounded."""
    run = take(tables, "run")
    if run.is_empty():
        return "No run has been stored yet."
    run_id, finished, version, rounding = run.row(-1)
    when = f", {finished[:16]} UTC" if finished else ""
    made_by = f", mixledger {version}" if version else ""
    rounded = f" Figures are rounded to their reporting decimals, {rounding}." if rounding else ""
    return f"As of run {run_id}{when}{made_by}.{rounded}"


def page(template: str, as_of_text: str, script: str | None = None, **parts: Any) -> bytes:
    """Return a whole page in UTF-8.

    Parameters
    ----------
    template
        Name of a template beside `style.css`.
    as_of_text
        What `as_of` said.
    script
        Name of a script beside the template; None: the page runs none and allows none.
    parts
        Gaps of the template. Text is escaped; parts whose name ends with `_html` hold markup made by the verbs.
    """
    filled = {name: Markup(part) if name.endswith("_html") else part for name, part in parts.items()}  # noqa: S704
    source, digest = _script(script) if script else ("", "")
    own = {"style_html": Markup(style()), "script_html": Markup(source), "script_hash": digest}  # noqa: S704
    text = _environment().get_template(template).render(cautions=CAUTIONS, as_of=as_of_text, **own, **filled)
    return text.encode("utf-8")


def tables_of(
    frame: pl.DataFrame,
    by: list[str],
    columns: Mapping[str, str],
    kind: str = "cards",
    row: str = "<tr>",
) -> pl.DataFrame:
    """Return one table per group of rows: columns `by` and table_html.

    Parameters
    ----------
    frame
        Rows in the order to be shown.
    by
        Columns that name the group.
    columns
        Column head (own words, or escaped) -> pattern of the cell, as `fill` takes it.
    kind
        Class of the table: `cards` turns rows into cards on narrow screens.
    row
        Pattern of the row's opening tag.
    """
    cells = "".join(f'<td data-l="{head}"><div>{cell}</div></td>' for head, cell in columns.items())
    heads = "".join(f'<th scope="col">{head}</th>' for head in columns)
    before = f'<div class="scroll"><table class="{kind}"><thead><tr>{heads}</tr></thead><tbody>'
    rows = gathered(frame.select(*by, fill(f"{row}{cells}</tr>").alias("row_html")), by, "row_html")
    return rows.select(
        *by, pl.concat_str(pl.lit(before), "row_html", pl.lit("</tbody></table></div>")).alias("table_html")
    )


def tables_by_owner(
    frame: pl.DataFrame, owner: str, columns: Mapping[str, str], kind: str = "cards", row: str = "<tr>"
) -> dict[str, str]:
    """Return owner -> table of the owner's rows; parameters as in `tables_of`."""
    return dict(tables_of(frame, [owner], columns, kind, row).iter_rows())
