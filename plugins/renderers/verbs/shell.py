"""The page around the sections: head, style, date of the figures, cautions."""

import base64
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
import polars as pl
from markupsafe import Markup

from plugins.renderers.verbs.figures import spaced
from plugins.renderers.verbs.markup import fill, gathered, own_words, printable
from plugins.renderers.verbs.presentation import current
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import word

_TEMPLATES = Path(__file__).parent.parent / "templates"


def cautions() -> tuple[str, ...]:
    """Return what is shown on every page."""
    return word("caution.judgement"), word("caution.hazards")


def _finalised(value: Any) -> Any:
    # Markup was made by the verbs, which have seen to it.
    return printable(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@cache
def _environment() -> jinja2.Environment:
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_finalised,
    )
    made.globals["word"] = word
    return made


def style() -> str:
    """Return the one style sheet of all pages."""
    return style_of("style.css")


@cache
def style_of(name: str) -> str:
    """Return a style sheet that stands beside the templates."""
    return (_TEMPLATES / name).read_text(encoding="utf-8")


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
        return word("stamp.none")
    run_id, finished, version, rounding = run.row(-1)
    when = word("stamp.when", day=day_of(finished), time=finished[10:16].strip()) if finished else ""
    made_by = word("stamp.by", version=version) if version else ""
    rounded = word("stamp.rounded", rule=rounding) if rounding else ""
    return word("stamp.run", run=run_id, when=when, by=made_by) + rounded


def day_of(stamp: str) -> str:
    """Return the day of a time in ISO 8601 in the format that is asked for; what is no time stays as it is."""
    try:
        return date.fromisoformat(stamp[:10]).strftime(current().date_pattern)
    except ValueError:
        return stamp[:10]


def is_page(content: bytes) -> bool:
    """Return whether the content begins as every page of ours does, with the policy that lets nothing be run."""
    source = (_TEMPLATES / "base.html").read_text(encoding="utf-8")
    before, _, after = source.partition("{{ language }}")
    head = after.partition("<title>")[0].partition("{%")[0]
    told = re.escape(before) + "[A-Za-z-]{2,20}" + re.escape(head)
    return re.match(told.encode(), content) is not None


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
    shell = {
        "style_html": Markup(style()),  # noqa: S704
        "script_html": Markup(source),  # noqa: S704
        "script_hash": digest,
        "cautions": cautions(),
        "language": current().language,
    }
    text = _environment().get_template(template).render(**shell, as_of=as_of_text, **filled)
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
        Column head (a text, escaped here) -> pattern of the cell, as `fill` takes it.
    kind
        Class of the table: `cards` turns rows into cards on narrow screens.
    row
        Pattern of the row's opening tag.
    """
    told = [(own_words(head), cell) for head, cell in columns.items()]
    cells = "".join(f'<td data-l="{head}"><div>{cell}</div></td>' for head, cell in told)
    heads = "".join(f'<th scope="col">{head}</th>' for head, _ in told)
    before = f'<div class="scroll"><table class="{kind}"><thead><tr>{heads}</tr></thead><tbody>'
    rows = gathered(frame.select(*by, fill(f"{row}{cells}</tr>").alias("row_html")), by, "row_html")
    return rows.select(
        *by, pl.concat_str(pl.lit(before), "row_html", pl.lit("</tbody></table></div>")).alias("table_html")
    )


@dataclass(frozen=True)
class Cut:
    """How many entries of a list are shown, and the text of the catalogue that says so where there are more."""

    shown: int
    text: str

    def rows(self, frame: pl.DataFrame, owner: str) -> pl.DataFrame:
        """Return the first rows of each owner."""
        return frame.filter(pl.int_range(pl.len()).over(owner) < self.shown)

    def note_html(self, count: int) -> str:
        """Return the sentence for a list of so many entries; nothing where all are shown."""
        if count <= self.shown:
            return ""
        return f'<p class="small">{own_words(word(self.text, shown=spaced(self.shown), all=spaced(count)))}</p>'


def tables_by_owner(
    frame: pl.DataFrame,
    owner: str,
    columns: Mapping[str, str],
    kind: str = "cards",
    row: str = "<tr>",
    cut: Cut | None = None,
) -> dict[str, str]:
    """Return owner -> table of the owner's rows; parameters as in `tables_of`, and `cut` says how many are listed."""
    shown = cut.rows(frame, owner) if cut else frame
    made: dict[str, str] = dict(tables_of(shown, [owner], columns, kind, row).iter_rows())
    if cut is None:
        return made
    counts = dict(frame.group_by(owner).len().iter_rows())
    return {name: cut.note_html(counts[name]) + table for name, table in made.items()}
