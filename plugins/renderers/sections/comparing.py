"""Laboratories and plants side by side, split samples, and the lists of the samples behind them."""

from typing import Any

import polars as pl

from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, gathered, given, own_words, phrase
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables, named
from plugins.renderers.verbs.shell import tables_by_owner
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import filled, word

#: Cell of the number of samples, which opens the list of them.
_SAMPLES = '<a class="fig" href="#{opens}"><data value="{samples}"><strong>{samples}</strong></data></a>{last_html}'


def _nil(name: str) -> pl.Expr:
    """Return a text of the catalogue as what stands where there is no figure."""
    return fill('<span class="nil">{words}</span>', words=pl.lit(word(name)))


def _last_html() -> pl.Expr:
    """Return when the last sample was taken, of column last_on; nothing where none was."""
    last = fill('<span class="date">{day}</span>', day=day(pl.col("last_on")))
    said = phrase("compare.last_taken", day_html=last)
    return given("last_on", fill('<span class="small">{said_html}</span>', said_html=said))


def sections(tables: Tables, projects: pl.DataFrame, naming: pl.DataFrame) -> dict[str, Any]:
    """Return the gaps of the summary's template that compare laboratories and plants.

    Parameters
    ----------
    tables
        The tables handed in.
    projects
        The register of projects, with slug.
    naming
        `verbs.results.names` of the properties compared.
    """
    years = [take(tables, name)["year"].max() for name in ("laboratory_figures", "plant_figures")]
    known = [year for year in years if year is not None]
    return {
        "year": max(known, default=""),
        "laboratories_html": _laboratories(tables, naming),
        "strays": _strays(tables),
        "bias_html": _bias(tables, naming),
        "plants_html": _plants(tables, naming),
        "behind_html": _behind(tables, projects),
    }


def _compared(
    figures: pl.DataFrame, owner: str, naming: pl.DataFrame, more: pl.Expr
) -> tuple[pl.DataFrame, dict[str, str]]:
    """Return one row per owner with the markup of each property compared, wide, and column head -> cell.

    Parameters
    ----------
    figures
        Columns `owner`, opens, property, samples, mean_off_target, deviation_off_target and those of `more`.
    owner
        Column that names the owner.
    naming
        Names of the properties.
    more
        Markup of what stands below the figure.
    """
    rows = named(figures, naming)
    decimals = pl.col("decimals")
    pm = given("deviation_off_target", fill(' <span class="pm">± {s}</span>', s=fixed(
        pl.col("deviation_off_target"), decimals)))  # fmt: skip
    off = fill(
        '<a class="fig" href="#{opens}"><data value="{key}"><strong>{off}</strong>{pm_html}</data></a>',
        key=pl.col("mean_off_target"),
        off=fixed(pl.col("mean_off_target"), decimals),
        pm_html=pm,
    )
    none = fill('<span class="small nil">{words}</span>', words=pl.lit(word("compare.no_target")))
    cell = fill(
        '{off_html}<span class="small"><a href="#{opens}">n {samples}</a></span>{more_html}',
        off_html=pl.when(pl.col("mean_off_target").is_not_null()).then(off).otherwise(none),
        more_html=more,
    )
    keys = rows["property"].drop_nulls().unique(maintain_order=True).to_list()
    made = rows.select(owner, "property", cell.alias("cell"))
    wide = made.pivot(on="property", on_columns=keys, index=owner, values="cell", aggregate_function="first")
    renamed = wide.rename({key: f"p{place}_html" for place, key in enumerate(keys)})
    first = naming.unique("property", keep="first", maintain_order=True)
    titles = {row["property"]: (row["name"], row["unit"]) for row in first.iter_rows(named=True)}
    heads = {own_words(", ".join(filter(None, titles[key]))): f"{{p{place}_html}}" for place, key in enumerate(keys)}
    whole = renamed.with_columns(pl.coalesce(f"p{place}_html", _nil("text.none")) for place in range(len(keys)))
    return whole, heads


def _anchored(frame: pl.DataFrame, column: str, prefix: str) -> pl.DataFrame:
    known = slugs(frame[column]).with_columns(pl.concat_str(pl.lit(prefix), "slug").alias("opens"))
    return frame.join(known.select(column, "opens"), on=column, how="left", maintain_order="left")


def _laboratories(tables: Tables, naming: pl.DataFrame) -> str:
    figures = _anchored(take(tables, "laboratory_figures").drop_nulls("laboratory_id"), "laboratory_id", "lab-")
    spread = phrase("compare.specimens", s=fixed(pl.col("repeatability"), pl.col("decimals")))
    repeats = given("repeatability", fill('<span class="small">{said_html}</span>', said_html=spread))
    compared, heads = _compared(figures, "laboratory_id", naming, repeats)
    rows = _anchored(take(tables, "laboratories").drop_nulls("laboratory_id"), "laboratory_id", "lab-")
    refusals = take(tables, "laboratory_refusals").drop_nulls("laboratory_id")
    joined = rows.join(compared, on="laboratory_id", how="left", maintain_order="left").join(
        refusals, on="laboratory_id", how="left", maintain_order="left"
    )
    shown = joined.with_columns(
        clipped(pl.coalesce("laboratory_name", "laboratory_id"), 80).alias("name"),
        clipped(pl.col("region"), 60).alias("region"),
        _last_html().alias("last_html"),
        _duplicates_html().alias("duplicates_html"),
        _days_html().alias("days_html"),
        pl.col("refusals").fill_null(0),
        pl.lit("all").alias("owner"),
    )
    columns = {
        word("head.laboratory"): '<b class="who"><bdi>{name}</bdi></b><span class="small"><bdi>{region}</bdi></span>',
        word("head.samples"): _SAMPLES,
        **heads,
        word("compare.duplicates"): "{duplicates_html}",
        word("compare.days"): "{days_html}",
        word(
            "compare.refusals"
        ): '<a class="fig" href="quality.html#refused"><data value="{refusals}">{refusals}</data></a>',
    }
    return tables_by_owner(shown, "owner", columns).get("all", "")


def _duplicates_html() -> pl.Expr:
    some = fill(
        '<a href="#{opens}"><data value="{duplicates_beyond}">{said_html}</data></a>',
        said_html=phrase("summary.part_of", part=pl.col("duplicates_beyond"), all=pl.col("duplicates")),
    )
    return pl.when(pl.col("duplicates") > 0).then(some).otherwise(_nil("compare.none_judged"))


def _days_html() -> pl.Expr:
    some = fill(
        '<a href="#{opens}"><data value="{days_median}">{middle}, {longest}</data></a>'
        '<span class="small">n {timed}</span>',
        middle=fixed(pl.col("days_median"), pl.lit(1)),
        longest=fixed(pl.col("days_longest"), pl.lit(0)),
    )
    return pl.when(pl.col("timed") > 0).then(some).otherwise(_nil("compare.undated"))


def _strays(tables: Tables) -> str:
    """Return how many refusals are of no one laboratory, in words; nothing where all are known."""
    rows = take(tables, "laboratory_refusals").filter(pl.col("laboratory_id").is_null())
    count = int(rows["refusals"].sum() or 0)
    return word("compare.strays", count=count) if count else ""


def _pair_anchor(tables: Tables) -> pl.DataFrame:
    """Return columns first, second, opens: the list of the split samples of two laboratories."""
    pairs = [take(tables, name).select("first", "second") for name in ("laboratory_bias", "split_pairs")]
    both = pl.concat(pairs).drop_nulls().unique(maintain_order=True).with_columns(
        filled("compare.pair", first=pl.col("first"), second=pl.col("second")).alias("label")
    )  # fmt: skip
    return _anchored(both, "label", "split-")


def _bias(tables: Tables, naming: pl.DataFrame) -> str:
    rows = named(take(tables, "laboratory_bias"), naming).join(
        _pair_anchor(tables), on=["first", "second"], how="left", maintain_order="left"
    )
    shown = rows.with_columns(
        *(clipped(pl.col(name), 60).alias(name) for name in ("first", "second")),
        *(fixed(pl.col(name), pl.col("decimals") + 1).alias(f"{name}_text") for name in ("difference", "deviation")),
        # Four decimals; a smaller chance is not said to be none.
        pl.when(pl.col("chance") < _LEAST_CHANCE)
        .then(pl.concat_str(pl.lit("< "), fixed(pl.lit(_LEAST_CHANCE), pl.lit(4))))
        .otherwise(fixed(pl.col("chance"), pl.lit(4)))
        .alias("chance_text"),
        _chance_html().alias("mark_html"),
        given("reason", fill('<span class="small"><bdi>{why}</bdi></span>', why=clipped(pl.col("reason"), 200)))
        .alias("why_html"),
        pl.lit("all").alias("owner"),
    )  # fmt: skip
    shown = shown.with_columns(
        given("deviation_text", fill(" ± {deviation_text}")).alias("pm_html"),
        phrase("compare.less", first_html=fill("<bdi>{first}</bdi>"), second_html=fill("<bdi>{second}</bdi>"))
        .alias("pair_html"),
    )  # fmt: skip
    columns = {
        word("compare.first_less_second"): "{pair_html}",
        word("head.result"): "<b>{title}</b>",
        word("compare.pairs"): '<a class="fig" href="#{opens}"><data value="{pairs}">{pairs}</data></a>',
        word(
            "compare.difference"
        ): '<data value="{difference}"><strong>{difference_text}</strong>{pm_html}</data> {unit}',
        word("compare.chance"): '<data value="{chance}">{chance_text}</data>',
        word("head.verdict"): "{mark_html}{why_html}",
    }
    return tables_by_owner(shown, "owner", columns).get("all", "")


#: Verdict on a difference -> kind of its mark, shape and name of its words.
_LEAST_CHANCE = 0.0001
_CHANCE = {"pass": ("pass", "✓", "compare.by_chance"), "fail": ("fail", "✕", "compare.beyond_chance")}
_UNJUDGED = ("open", "○", "verdict.not_judged")


def _chance_html() -> pl.Expr:
    worded = {verdict: (kind, shape, word(name)) for verdict, (kind, shape, name) in _CHANCE.items()}
    unjudged = (*_UNJUDGED[:2], word(_UNJUDGED[2]))

    def part(place: int) -> pl.Expr:
        known = {verdict: told[place] for verdict, told in worded.items()}
        return pl.col("verdict").replace_strict(known, default=unjudged[place], return_dtype=pl.String)

    return fill(
        '<span class="mark {kind}"><span aria-hidden="true">{shape}</span> <span class="word">{said}</span></span>',
        kind=part(0),
        shape=part(1),
        said=part(2),
    )


def _plants(tables: Tables, naming: pl.DataFrame) -> str:
    figures = _anchored(take(tables, "plant_figures").drop_nulls("plant"), "plant", "plant-")
    said = phrase("summary.outside_of", failed=pl.col("failed"), judged=pl.col("judged"))
    outside = fill('<span class="small">{said_html}</span>', said_html=said)
    marked = fill('<span class="mark fail"><span aria-hidden="true">✕</span> {said_html}</span>', said_html=said)
    told = pl.when(pl.col("failed") > 0).then(marked).when(pl.col("judged") > 0).then(outside).otherwise(pl.lit(""))
    compared, heads = _compared(figures, "plant", naming, told)
    rows = _anchored(take(tables, "plants").drop_nulls("plant"), "plant", "plant-")
    shown = rows.join(compared, on="plant", how="left", maintain_order="left").with_columns(
        clipped(pl.col("plant"), 80).alias("name"),
        _last_html().alias("last_html"),
        pl.lit("all").alias("owner"),
    )
    columns = {
        word("head.plant"): '<b class="who"><bdi>{name}</bdi></b>',
        word("head.samples"): _SAMPLES,
        word("compare.mixes"): '<data value="{mixes}">{mixes}</data>',
        **heads,
    }
    return tables_by_owner(shown, "owner", columns).get("all", "")


def _behind(tables: Tables, projects: pl.DataFrame) -> str:
    """Return a folded list per laboratory, pair of laboratories and plant: where its samples are."""
    places = take(tables, "project_places").join(
        projects.select("project_id", "project_name", "slug"), on="project_id", maintain_order="left"
    )
    return (
        _owners(places, "laboratory_id", "lab-", "head.laboratory")
        + _split_lists(tables)
        + _owners(places, "plant", "plant-", "head.plant")
    )


def _owners(places: pl.DataFrame, owner: str, prefix: str, head: str) -> str:
    by = [owner, "project_id", "project_name", "slug"]
    counts = places.drop_nulls(owner).group_by(by, maintain_order=True).agg(pl.col("samples").sum())
    item = fill(
        '<li><a href="project/{slug}.html#samples"><bdi>{name}</bdi></a> <span class="more">{samples}</span></li>',
        name=clipped(pl.coalesce("project_name", "project_id"), 80),
    )
    return _folded(counts.sort(owner, "project_id"), owner, prefix, head, item)


def _split_lists(tables: Tables) -> str:
    samples = take(tables, "samples")["sample_id"]
    known = slugs(
        pl.concat([take(tables, "split_pairs")[name].rename("sample_id") for name in ("sample_id", "other_id")])
    )
    known = known.filter(pl.col("sample_id").is_in(samples.implode()))
    rows = take(tables, "split_pairs").join(_pair_anchor(tables), on=["first", "second"], maintain_order="left")
    for name, slug in (("sample_id", "own"), ("other_id", "other")):
        rows = rows.join(known.rename({"sample_id": name, "slug": slug}), on=name, how="left", maintain_order="left")
    links = [
        given(slug, fill(f'<a href="sample/{{{slug}}}.html"><bdi>{{text}}</bdi></a>', text=clipped(pl.col(name), 60)))
        for name, slug in (("sample_id", "own"), ("other_id", "other"))
    ]
    both = phrase("compare.pair", first_html=links[0], second_html=links[1])
    item = fill(
        '<li>{both_html} <span class="more date">{day}</span></li>', both_html=both, day=day(pl.col("taken_on"))
    )
    return _folded(rows, "label", "split-", "compare.split_of", item)


def _folded(rows: pl.DataFrame, owner: str, prefix: str, head: str, item: pl.Expr) -> str:
    items = gathered(rows.select(owner, item.alias("items_html")), [owner], "items_html")
    block = fill(
        '<details><summary>{head} <bdi>{label}</bdi></summary><ul class="columns" id="{opens}">'
        "{items_html}</ul></details>",
        head=pl.lit(word(head)),
        label=clipped(pl.col(owner), 120),
    )
    return "".join(_anchored(items, owner, prefix).select(block.alias("block"))["block"].to_list())
