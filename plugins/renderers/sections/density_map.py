"""In-place density on the project page: a plan per lot by station and offset, with legend and figures."""

import polars as pl

from plugins.renderers.charts.plan import outline, plans
from plugins.renderers.verbs.figures import fixed, plain, reported
from plugins.renderers.verbs.markup import by_owner, clipped, fill, gathered, given
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import Cut, tables_of
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.verdicts import SHAPES, limit_text
from plugins.renderers.verbs.words import filled, word

_LOT = ["project_id", "mix_id", "lot"]
_PLACE = ["sample_id", "specimen_no"]
#: Lots drawn per project.
_LOTS = Cut(40, "density.shown")
_SIDES = ("within", "below", "above", "none")


def maps(tables: Tables) -> dict[str, str]:
    """Return project -> plans of its lots."""
    rows = take(tables, "density_places").drop_nulls("project_id")
    if rows.is_empty():
        return {}
    rows = _worded(named(rows, names(rows, tables)))
    drawable = rows.filter(pl.col("station").is_not_null() & pl.col("offset").is_not_null())
    # A core before the gauge reading of its place: the core is the one that counts.
    marks = drawable.sort("is_gauge", maintain_order=True).unique([*_LOT, "number"], keep="first", maintain_order=True)
    parts = [_heads(rows), _limits(rows), plans(marks, _LOT, _said()), _legends(marks), _lacking(rows), _tables(rows)]
    lots = parts[0]
    for part in parts[1:]:
        lots = lots.join(part, on=_LOT, how="left", nulls_equal=True, maintain_order="left")
    figure = fill(
        '<figure class="plan">{head_html}{limits_html}{plan_html}{legend_html}{lacking_html}{table_html}</figure>'
    )
    drawn = by_owner(
        _LOTS.rows(lots, "project_id").select("project_id", figure.alias("lot_html")), "project_id", "lot_html"
    )
    of = dict(lots.group_by("project_id").len().iter_rows())
    return {name: f'<div class="plots">{body}</div>{_LOTS.note_html(of[name])}' for name, body in drawn.items()}


def _worded(rows: pl.DataFrame) -> pl.DataFrame:
    """Add kind, side, number of the place in its lot, limits in words and figures as text."""
    gauge = pl.col("property").str.ends_with("gauge")
    known = pl.col("side").is_in(_SIDES)
    place = pl.struct(_PLACE)
    numbered = rows.with_row_index("order").with_columns(
        gauge.alias("is_gauge"),
        pl.when(gauge).then(pl.lit("gauge")).otherwise(pl.lit("core")).alias("kind"),
        pl.when(known).then("side").otherwise(pl.lit("none")).alias("side"),
        pl.col("order").min().over(*_LOT, *_PLACE),
        limit_text().alias("limit"),
        place.n_unique().over(_LOT).alias("places"),
    )
    return numbered.with_columns(
        pl.col("order").rank("dense").over(_LOT).cast(pl.Int64).alias("number"),
        pl.coalesce(reported(pl.col("text")), fixed(pl.col("value"), pl.col("decimals"))).alias("shown"),
    ).sort(*_LOT, "number", "is_gauge", nulls_last=True, maintain_order=True)


def _heads(rows: pl.DataFrame) -> pl.DataFrame:
    lot = pl.when(pl.col("lot").is_null()).then(pl.lit(word("density.no_lot"))).otherwise(
        pl.concat_str(pl.lit(word("density.lot", lot="")), clipped(pl.col("lot"), 40))
    )  # fmt: skip
    head = fill(
        '<h3><bdi>{name}</bdi> <span class="more"><bdi>{mix}</bdi></span></h3>',
        name=lot,
        mix=clipped(pl.col("mix_id"), 60),
    )
    return rows.select(_LOT).unique(maintain_order=True).with_columns(head.alias("head_html"))


def _limits(rows: pl.DataFrame) -> pl.DataFrame:
    """Return columns of `_LOT` and limits_html: every limit the places are held against, and whose it is."""
    basis = pl.col("basis").replace_strict(
        {name: word(f"density.{name}") for name in ("plan", "sample")}, default=None, return_dtype=pl.String
    )
    stated = rows.filter(pl.col("limit").is_not_null()).unique(
        [*_LOT, "property", "limit", "basis"], maintain_order=True
    )
    line = fill(
        '<p class="small">{title}: {limit} {unit}{basis_html}</p>', basis_html=given(basis, fill("; {of}", of=basis))
    )
    told = gathered(stated.select(*_LOT, line.alias("limits_html")), _LOT, "limits_html")
    every = rows.select(_LOT).unique(maintain_order=True)
    none = pl.lit(f'<p class="small">{word("density.no_limits")}</p>')
    return every.join(told, on=_LOT, how="left", nulls_equal=True, maintain_order="left").with_columns(
        pl.coalesce("limits_html", none)
    )


def _kind_words() -> pl.Expr:
    """Return what a mark means in words, of columns kind and side."""
    sides = {side: word(f"density.{side}") for side in _SIDES}
    said = {
        f"{kind} {side}": f"{word(f'density.{kind}')}, {words}"
        for kind in ("core", "gauge")
        for side, words in sides.items()
    }
    return pl.concat_str("kind", "side", separator=" ").replace_strict(said, default=None, return_dtype=pl.String)


def _said() -> pl.Expr:
    """Return the text alternative of a plan: how many places of each kind lie where."""
    each = pl.concat_str(pl.col("number"), pl.lit(": "), _kind_words())
    return each.str.join("; ")


def _legends(marks: pl.DataFrame) -> pl.DataFrame:
    """Return columns of `_LOT` and legend_html: the marks that occur, with their number and meaning."""
    kinds = marks.group_by(*_LOT, "is_gauge", "kind", "side").agg(pl.len().alias("n"))
    place = pl.col("side").replace_strict({side: at for at, side in enumerate(_SIDES)}, return_dtype=pl.Int64)
    item = fill(
        '<li><svg viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">'
        '<path class="place {kind} {side}" d="M8 8{d}"/></svg>{words}: {n}</li>',
        d=outline(),
        words=_kind_words(),
    )
    items = kinds.sort(*_LOT, "is_gauge", place, nulls_last=True).select(*_LOT, item.alias("legend_html"))
    return gathered(items, _LOT, "legend_html").with_columns(
        fill('<ul class="legend">{legend_html}</ul>').alias("legend_html")
    )


def _lacking(rows: pl.DataFrame) -> pl.DataFrame:
    """Return columns of `_LOT` and lacking_html: how many places are not drawn."""
    placed = pl.col("station").is_not_null() & pl.col("offset").is_not_null()
    places = rows.group_by(*_LOT, "number", "places", maintain_order=True).agg(placed.any().alias("placed"))
    counts = places.group_by(*_LOT, "places", maintain_order=True).agg((~pl.col("placed")).sum().alias("unplaced"))
    some = filled("density.unplaced", unplaced=pl.col("unplaced"), places=pl.col("places"))
    text = (
        pl.when(pl.col("unplaced") == pl.col("places")).then(pl.lit(word("density.undrawn")))
        .when(pl.col("unplaced") > 0).then(some)
    )  # fmt: skip
    return counts.select(*_LOT, given(text, fill('<p class="flag small">{text}</p>', text=text)).alias("lacking_html"))


def _tables(rows: pl.DataFrame) -> pl.DataFrame:
    """Return columns of `_LOT` and table_html: the figures of every place, drawn or not, by its number."""
    figure = fill(
        "<div>{kind_text} {shown_html} {mark_html}{notes_html}</div>",
        kind_text=pl.col("kind").replace_strict({kind: word(f"density.{kind}") for kind in ("core", "gauge")}),
        shown_html=pl.when(pl.col("shown").is_null())
        .then(pl.lit(word("density.no_figure")))
        .otherwise(fill("<strong>{shown}</strong> {unit}")),
        mark_html=_mark_html(),
        notes_html=_notes_html(),
    )
    places = rows.with_columns(figure.alias("figure_html")).group_by(*_LOT, "number", maintain_order=True).agg(
        pl.col(*_PLACE, "place_unit").first(),
        *(plain(pl.col(name).drop_nulls().first().round(2)).alias(name) for name in ("station", "offset")),
        pl.col("figure_html").str.join(""),
    )  # fmt: skip
    linked = places.join(slugs(rows["sample_id"]), on="sample_id", how="left", maintain_order="left")
    label = pl.concat_str(clipped(pl.col("sample_id"), 40), pl.lit("/"), clipped(pl.col("specimen_no"), 20))
    cells = linked.with_columns(
        fill('<a href="../sample/{slug}.html"><bdi>{label}</bdi></a>', label=label).alias("place_html"),
        *(given(name, fill(f"{{{name}}} {{place_unit}}")).alias(f"{name}_html") for name in ("station", "offset")),
    )
    columns = {
        word("density.number"): "{number}",
        word("head.place"): "{place_html}",
        word("density.where"): '<span class="firm">{station_html}</span><span class="small firm">{offset_html}</span>',
        word("density.compaction"): "{figure_html}",
    }
    return tables_of(cells, _LOT, columns, kind="spec")


def _notes_html() -> pl.Expr:
    """Return why a place has no figure, what its figure's doubts are, and which core stands in for it."""
    codes = pl.col("flags").str.replace_all(" ", ", ", literal=True).str.replace_all("_", " ", literal=True)
    notes = (
        pl.when(pl.col("shown").is_null()).then(clipped(pl.col("withheld"), 200)),
        given("flags", filled("density.doubtful", flags=clipped(codes, 120))),
        filled("density.replaced", core=clipped(pl.col("replaced_by"), 20)),
    )
    return pl.concat_str(given(note, fill('<span class="small">{note}</span>', note=note)) for note in notes)


def _mark_html() -> pl.Expr:
    side = pl.col("side")
    words = {each: word(f"density.{each}") for each in _SIDES}
    return fill(
        '<span class="mark {tone}"><span aria-hidden="true">{shape}</span> {words}</span>',
        tone=side.replace_strict({"within": "pass", "none": "open"}, default="fail", return_dtype=pl.String),
        shape=side.replace_strict(SHAPES, default=SHAPES["not_judged"], return_dtype=pl.String),
        words=side.replace_strict(words, return_dtype=pl.String),
    )
