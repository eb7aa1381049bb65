"""Pay on the project page: the factor of every lot as a whole, and the parts it is made of."""

import polars as pl

from plugins.renderers.verbs.figures import fixed, plain
from plugins.renderers.verbs.markup import clipped, fill, given
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import tables_by_owner
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import filled, word
from schemas.vocabulary import CompositeRule

_LOT = ["project_id", "mix_id", "lot"]
#: Lots listed per project, and decimals of factors.
_LOTS_SHOWN, _PLACES = 300, 2


def summary(tables: Tables) -> dict[str, str]:
    """Return project -> table of its lots that have a part with a factor, or that a reason leaves without one."""
    rows = take(tables, "lots").drop_nulls("project_id")
    rows = named(rows, names(rows, tables))
    # What neither pays nor says why it does not is judged by a plan without a pay rule.
    priced = rows.filter(pl.col("pay_pct").is_not_null() | pl.col("reason").is_not_null())
    paid = priced.filter(pl.col("pay_pct").is_not_null().any().over(_LOT))
    several = pl.len().over(_LOT) > 1
    minded = fill('<div class="flag"><bdi>{said}</bdi></div>', said=clipped(pl.col("consequence"), 300))
    parts = paid.with_columns(
        fill(
            '<div>{title} <strong>{part}</strong>{weight_html}<span class="small"><bdi>{rule}</bdi></span></div>',
            part=pl.coalesce(_percent("pay_pct"), pl.lit(word("pay.no_part"))),
            weight_html=pl.when(several & (pl.col("composite_rule") == CompositeRule.WEIGHTED.value)).then(
                given("weight", fill(", {said}", said=filled("pay.weight", weight=plain(pl.col("weight")))))
            ),
            rule=clipped(pl.coalesce("pay_rule", "reason"), 200),
        ).alias("parts_html"),
        given("consequence", minded).alias("minds_html"),
        several.alias("several"),
    )  # fmt: skip
    lots = parts.group_by(_LOT, maintain_order=True).agg(
        pl.col("composite_pct", "composite_rule", "several").first(),
        *(pl.col(name).str.join("") for name in ("parts_html", "minds_html")),
    )
    told = lots.with_columns(
        pl.coalesce(_percent("composite_pct"), pl.lit(word("pay.none"))).alias("whole"),
        given(pl.col("composite_pct"), fill('<span class="small">{how}</span>', how=_how())).alias("how_html"),
        *(clipped(pl.col(name), 60).alias(f"{name}_text") for name in ("lot", "mix_id")),
    )
    columns = {
        "Lot": '<b><bdi>{lot_text}</bdi></b><span class="small"><bdi>{mix_id_text}</bdi></span>',
        "Lot as a whole": "<strong>{whole}</strong>{how_html}",
        "Parts": "{parts_html}",
        "Consequence": "{minds_html}",
    }
    listed = told.filter(pl.int_range(pl.len()).over("project_id") < _LOTS_SHOWN)
    return tables_by_owner(listed, "project_id", columns)


def _percent(name: str) -> pl.Expr:
    return pl.concat_str(fixed(pl.col(name), pl.lit(_PLACES)), pl.lit(" %"))


def _how() -> pl.Expr:
    rules = {str(rule.value): word(f"pay.{rule.value}") for rule in CompositeRule}
    said = pl.col("composite_rule").replace_strict(rules, default=None, return_dtype=pl.String)
    return pl.when(pl.col("several")).then(said).otherwise(pl.lit(word("pay.one")))
