"""Lots on the project page: each as a whole, then the parts it is made of; those to mind first, then the latest."""

import polars as pl

from plugins.renderers.verbs.figures import fixed, plain
from plugins.renderers.verbs.markup import by_owner, clipped, fill, gathered, given, own_words
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import Cut
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.verdicts import limit_text
from plugins.renderers.verbs.words import filled, group, word
from schemas.vocabulary import CompositeRule

_LOT = ["project_id", "mix_id", "lot"]
_LOTS = Cut(200, "lots.shown")
#: Decimals of percentages.
_PLACES = 2
#: Columns that are true where there is something to mind.
_RAISED = ("retest", "removal", "outlier")
#: Column head -> cell of a part.
_CELLS = {
    "lots.result": '{title}<span class="small"><bdi>{plan}</bdi></span>',
    "project.mean": '<strong>{mean_text}</strong>{pm_html} {unit}<span class="small">{size}</span>',
    "project.limits": "{limit}",
    "lots.within": "{within_html}",
    "lots.pay": "{pay_html}",
    "lots.mind": "{said_html}",
}


def lots(tables: Tables) -> dict[str, str]:
    """Return project -> its lots: one table, a head per lot with its factor as a whole, a row per part."""
    rows = take(tables, "lots").drop_nulls("project_id")
    if rows.is_empty():
        return {}
    rows = _told(named(rows, names(rows, tables)))
    heads = {name: own_words(word(name)) for name in _CELLS}
    cells = "".join(f'<td data-l="{heads[name]}"><div>{cell}</div></td>' for name, cell in _CELLS.items())
    parts = gathered(rows.select(*_LOT, fill(f"<tr>{cells}</tr>").alias("parts_html")), _LOT, "parts_html")
    whole = _wholes(rows, tables).join(parts, on=_LOT, how="left", nulls_equal=True, maintain_order="left")
    listed = _LOTS.rows(whole, "project_id")
    body = fill(
        f'<tbody><tr class="group"><th scope="rowgroup" colspan="{len(_CELLS)}"><bdi>{{name}}</bdi> '
        '<span class="more"><bdi>{mix}</bdi>{last_html}</span><br><span class="more">{whole_html}</span></th></tr>'
        "{parts_html}</tbody>"
    )
    made = by_owner(listed.select("project_id", body.alias("body_html")), "project_id", "body_html")
    top = "".join(f'<th scope="col">{head}</th>' for head in heads.values())
    counts = dict(whole.group_by("project_id").len().iter_rows())
    return {
        name: _LOTS.note_html(counts[name])
        + f'<div class="scroll"><table class="cards"><thead><tr>{top}</tr></thead>{body}</table></div>'
        for name, body in made.items()
    }


def _told(rows: pl.DataFrame) -> pl.DataFrame:
    """Add the texts of each part's cells, and `priced`: whether it takes part in the pay of the lot."""
    # What neither pays nor says why it does not is judged by a plan without a pay rule.
    priced = pl.col("pay_pct").is_not_null() | pl.col("reason").is_not_null()
    paid = pl.col("pay_pct").is_not_null().any().over(_LOT)
    rows = rows.with_columns(
        (priced & paid).alias("priced"),
        paid.alias("paid"),
        *(fixed(pl.col(name), pl.col("decimals")).alias(f"{name}_text") for name in ("mean", "s")),
        *(_percent(name).alias(f"{name}_text") for name in ("within_pct", "pay_pct", "composite_pct")),
        limit_text().alias("limit"),
        filled("lots.size", n=pl.col("n")).alias("size"),
        clipped(pl.col("plan_id"), 60).alias("plan"),
    )
    several = pl.col("priced").sum().over(_LOT) > 1
    weighted = several & (pl.col("composite_rule") == CompositeRule.WEIGHTED.value) & pl.col("weight").is_not_null()
    left_out = pl.when(pl.col("left_out") > 0).then(filled("project.left_out", n=pl.col("left_out")))
    factor = fill(
        '<strong>{part}</strong>{weight_html}<span class="small"><bdi>{rule}</bdi></span>',
        part=pl.coalesce("pay_pct_text", pl.lit(word("pay.no_part"))),
        weight_html=pl.when(weighted).then(fill(", {said}", said=filled("pay.weight", weight=plain(pl.col("weight"))))),
        rule=clipped(pl.col("pay_rule"), 200),
    )
    return rows.with_columns(
        several.alias("several"),
        pl.concat_str("size", left_out, separator=", ", ignore_nulls=True).alias("size"),
        given("s_text", fill(" ± {s_text}")).alias("pm_html"),
        given("within_pct_text", fill("<strong>{within_pct_text}</strong>")).alias("within_html"),
        pl.when("priced").then(factor).alias("pay_html"),
        _minded().alias("said_html"),
    )


def _minded() -> pl.Expr:
    """Return what there is to mind of a part, a line each: its consequence, what was raised, why it has no factor."""
    raised = {name: pl.when(pl.col(name)).then(pl.lit(word(f"lots.{name}"))) for name in _RAISED}
    said = [clipped(pl.col("consequence"), 300), *raised.values(), clipped(pl.col("reason"), 300)]
    return pl.concat_str(
        given(each, fill('<span class="flag small"><bdi>{each}</bdi></span>', each=each)) for each in said
    )


def _wholes(rows: pl.DataFrame, tables: Tables) -> pl.DataFrame:
    """Return one row per lot, those to mind first and the latest first, with the texts of its head."""
    reduced = pl.min_horizontal("pay_pct", "composite_pct") < 100
    taken = take(tables, "samples").drop_nulls(_LOT).group_by(_LOT).agg(pl.col("taken_on").max().alias("last_on"))
    lots = rows.group_by(_LOT, maintain_order=True).agg(
        pl.col("composite_pct_text", "composite_rule", "several", "paid").first(),
        ((pl.col("said_html") != "") | reduced.fill_null(False)).any().alias("to_mind"),
    )
    ordered = lots.join(taken, on=_LOT, how="left", maintain_order="left").sort(
        "project_id", "to_mind", "last_on", "mix_id", "lot", descending=[False, True, True, False, False],
        nulls_last=True,
    )  # fmt: skip
    whole = (
        pl.when(pl.col("composite_pct_text").is_not_null())
        .then(fill("{head} <strong>{composite_pct_text}</strong>, {how}", how=_how()))
        .when("paid")
        .then(fill("{head} <strong>{none}</strong>", none=pl.lit(word("pay.none"))))
        .otherwise(fill("{none}", none=pl.lit(word("lots.unpaid"))))
    )
    last = given("last_on", fill(', <span class="date">{said}</span>', said=filled("lots.last", day=day(
        pl.col("last_on")))))  # fmt: skip
    return ordered.with_columns(
        filled("density.lot", lot=clipped(pl.col("lot"), 60)).fill_null(word("density.no_lot")).alias("name"),
        clipped(pl.col("mix_id"), 60).alias("mix"),
        last.alias("last_html"),
        pl.lit(word("lots.whole")).alias("head"),
    ).with_columns(whole.alias("whole_html"))


def _percent(name: str) -> pl.Expr:
    return pl.concat_str(fixed(pl.col(name), pl.lit(_PLACES)), pl.lit(" %"))


def _how() -> pl.Expr:
    words = group("pay")
    rules = {rule.value: words[rule.value] for rule in CompositeRule}
    said = pl.col("composite_rule").replace_strict(rules, default=None, return_dtype=pl.String)
    return pl.when(pl.col("several")).then(said).otherwise(pl.lit(words["one"]))
