"""Stockpiles a mix is blended of, by its latest revision."""

import polars as pl

from plugins.renderers.verbs.figures import fixed, plain
from plugins.renderers.verbs.markup import clipped, fill, given
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.shell import tables_of
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import word


def blends(tables: Tables) -> dict[str, str]:
    """Return mix -> table of its stockpiles, with their combined gravity where one was found."""
    key = ["mix_id", "revision"]
    rows = take(tables, "stockpile").drop_nulls(key).with_columns(
        plain(pl.col("share_pct")).alias("share"),
        *(fixed(pl.col(name), pl.lit(3)).alias(name) for name in ("gsb", "gsa")),
        *(clipped(pl.col(name), 80).alias(name) for name in ("stockpile", "source")),
    )  # fmt: skip
    columns = {
        word("mix_page.stockpile"): "<b><bdi>{stockpile}</bdi></b>",
        word("mix_page.share"): "{share}",
        word("mix_page.source"): "<bdi>{source}</bdi>",
        "Gsb": "{gsb}",
        "Gsa": "{gsa}",
    }
    places = take(tables, "properties").filter(pl.col("property") == "gsb_blend").select("decimals").head(1)
    decimals = pl.lit(places.item() if places.height else None, pl.Int64)
    gravity = take(tables, "mix_gravity").drop_nulls().unique(key, keep="last", maintain_order=True).with_columns(
        fixed(pl.col("gsb_blend"), decimals).alias("gravity")
    )  # fmt: skip
    made = tables_of(rows, key, columns, "cards spec").join(gravity, on=key, how="left", maintain_order="left")
    combined = given("gravity", fill("<p>{words} <strong>{gravity}</strong></p>", words=pl.lit(word(
        "mix_page.combined"))))  # fmt: skip
    block = fill("<h3>{head}</h3>{table_html}{combined_html}", head=pl.format(word("mix_page.revision"), "revision"),
                 combined_html=combined)  # fmt: skip
    latest = made.sort(key).unique("mix_id", keep="last", maintain_order=True)
    return dict(latest.select("mix_id", block.alias("block_html")).iter_rows())
