"""Mix pages: design and phases side by side, gradation, state of the mix, revisions."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from plugins.renderers.sections import gradation, mix_curves, mix_trends
from plugins.renderers.sections.mix_blend import blends
from plugins.renderers.sections.model import register
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, gathered, given
from plugins.renderers.verbs.presentation import current, day
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import Cut, as_of, page, tables_by_owner, tables_of
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.tables import CURVE_POINTS, MIX_SAMPLES, take
from plugins.renderers.verbs.words import defined, filled, spoken, word
from schemas.units import SIEVE_DESIGNATIONS
from schemas.vocabulary import MixState

_LATER = ("verification", "startup", "production")
_LESS = ("production_less_target", "production_less_verification", "production_less_startup")
#: State -> kind of its mark and shape.
_MARKS = {MixState.IN_CONTROL: ("pass", "✓"), MixState.STOPPED: ("fail", "✕")}
#: Events listed per mix, the latest first.
_EVENTS = Cut(200, "mix.states_shown")


def _phases(tables: Tables) -> pl.DataFrame:
    """Return the phases of every mix with names and figures as text; columns of `mix_phases` and these."""
    rows = take(tables, "mix_phases").drop_nulls("mix_id")
    order = take(tables, "properties").select("property").unique(maintain_order=True).with_row_index("place_in_list")
    texts = ("target", *_LATER, *_LESS, "production_deviation")
    shown = named(rows, names(rows, tables)).with_columns(
        fixed(pl.col(name), pl.col("decimals")).alias(f"{name}_text") for name in texts
    )
    made = fill(
        '<strong>{production_text}</strong>{s_html} {unit}<span class="small">{size}</span>',
        size=filled("lots.size", n=pl.col("production_samples")),
        unit=pl.col("unit").fill_null(""),
    )
    pm = fill(" ± {s}", s=pl.col("production_deviation_text"))
    several = pl.col("project_id").n_unique().over("mix_id") > 1
    title = pl.when(several).then(pl.concat_str("title", pl.lit(" ("), clipped(pl.col("project_id"), 40), pl.lit(")")))
    return (
        shown.with_columns(
            given("production_deviation_text", pm).alias("s_html"),
            pl.coalesce(title, pl.col("title")).alias("title"),
            # Without production there is nothing to count.
            pl.when(pl.col("production_samples") > 0).then(pl.col("production_samples")).alias("production_samples"),
        )
        .join(order, on="property", how="left", maintain_order="left")
        .with_columns(
            pl.col("target").is_null().alias("no_target"), given("production_text", made).alias("production_html")
        )
        .sort("mix_id", "revision", "no_target", "place_in_list", "property", "point", "project_id", nulls_last=True)
    )


def _side_by_side(phases: pl.DataFrame) -> dict[str, str]:
    """Return mix -> the figures of its revisions but the gradation, the latest first.

    What the design states stands open, what only the phases have is folded under its number.
    """
    columns = {
        word("head.figure"): "<b>{title}</b>",
        word("mix.design"): "{target_text}",
        word("mix.verification"): "{verification_text}",
        word("mix.startup"): "{startup_text}",
        word("mix.production"): "{production_html}",
        word("mix.less_design"): "{production_less_target_text}",
        word("mix.less_verification"): "{production_less_verification_text}",
        word("mix.less_startup"): "{production_less_startup_text}",
    }
    by = ["mix_id", "revision"]
    rows = phases.filter(~pl.col("property").is_in(gradation.PROPERTIES))
    aimed, rest = (
        tables_of(rows.filter(chosen), by, columns).rename({"table_html": name})
        for name, chosen in (("aimed_html", ~pl.col("no_target")), ("rest_html", pl.col("no_target")))
    )
    counts = rows.group_by(by, maintain_order=True).agg(pl.col("no_target").sum().alias("n"))
    for piece in (aimed, rest):
        counts = counts.join(piece, on=by, how="left", nulls_equal=True, maintain_order="left")
    folded = given("rest_html", fill(
        '<details class="fold"><summary>{head}</summary>{rest_html}</details>',
        head=filled("mix.no_target", n=pl.col("n")),
    ))  # fmt: skip
    block = fill(
        "<h3>{head}</h3>{aimed_html}{folded_html}",
        head=_revision(),
        folded_html=folded,
    )
    ordered = counts.sort("mix_id", "revision", descending=[False, True], nulls_last=True)
    return dict(gathered(ordered.select("mix_id", block.alias("block_html")), ["mix_id"], "block_html").iter_rows())


def _revision() -> pl.Expr:
    known = pl.format(word("mix_page.revision"), "revision")
    return pl.coalesce(known, pl.lit(word("mix.no_revision")))


def _states(tables: Tables, samples: pl.DataFrame) -> tuple[dict[str, str], dict[str, str]]:
    """Return mix -> its present state as a mark, and mix -> the table of its results, latest first."""
    rows = take(tables, "mix_states").drop_nulls("mix_id").sort(
        "mix_id", "project_id", "event_no", descending=[False, False, True], nulls_last=True
    )  # fmt: skip
    rows = rows.join(samples.select("sample_id", "slug"), on="sample_id", how="left", maintain_order="left")
    means = {str(state.value): defined(state) for state in MixState}
    kinds = {str(state.value): mark[0] for state, mark in _MARKS.items()}
    shapes = {str(state.value): mark[1] for state, mark in _MARKS.items()}
    link = fill('<a href="../sample/{slug}.html"><bdi>{label}</bdi></a>', label=clipped(pl.col("sample_id"), 60))
    plain = fill("<bdi>{label}</bdi>", label=clipped(pl.col("sample_id"), 60))
    marked = rows.with_columns(
        fill(
            '<span class="mark {kind}"><span aria-hidden="true">{shape}</span> <span class="word">{word}</span></span>',
            kind=pl.col("state").replace_strict(kinds, default="open", return_dtype=pl.String),
            shape=pl.col("state").replace_strict(shapes, default="◐", return_dtype=pl.String),
            word=clipped(spoken("mix_state", pl.col("state")), 40),
        ).alias("state_html"),
        pl.col("state").replace_strict(means, default="", return_dtype=pl.String).alias("means"),
        pl.when(pl.col("slug").is_not_null()).then(link).otherwise(plain).alias("sample_html"),
        pl.when(pl.col("out"))
        .then(filled("mix.out", failed=clipped(pl.col("failed"), 200).fill_null("")))
        .otherwise(pl.lit(word("mix.in")))
        .alias("outcome"),
        day(pl.col("taken_on")).alias("taken"),
        spoken("purpose", pl.col("purpose")).alias("purpose"),
    )
    last = marked.unique(["mix_id", "project_id"], keep="first", maintain_order=True)
    now = fill("{state_html}<span>: {means} (<bdi>{project}</bdi>)</span>", project=filled(
        "mix.of_project", project=clipped(pl.col("project_id"), 60)))  # fmt: skip
    columns = {
        word("project.taken"): '<span class="date">{taken}</span>',
        word("head.sample"): '{sample_html}<span class="small">{purpose}</span>',
        word("head.result"): "<bdi>{outcome}</bdi>",
        word("mix.state_after"): '{state_html}<span class="small">{means}</span>',
    }
    states = gathered(last.select("mix_id", now.alias("now_html")), ["mix_id"], "now_html", "<br>")
    return dict(states.iter_rows()), tables_by_owner(marked, "mix_id", columns, cut=_EVENTS)


def _revisions(tables: Tables) -> dict[str, str]:
    places = {"pb_pct": 2, "gmm": 3, "air_voids_pct": 1, "vma_pct": 1, "recycled_pct": 1}
    rows = take(tables, "mixes").with_columns(
        *(fixed(pl.col(name), pl.lit(count)).alias(f"{name}_text") for name, count in places.items()),
        pl.coalesce(_named_sieve(), fixed(pl.col("nmas_mm"), pl.lit(2))).alias("nmas_text"),
        *(clipped(pl.col(name), 60).alias(name) for name in ("plant", "binder_grade", "layer", "traffic")),
        day(pl.col("valid_from")).alias("since"),
    )
    columns = {
        word("mix.revision"): "{revision}",
        word("mix.since"): '<span class="date">{since}</span>',
        word("head.plant"): "<bdi>{plant}</bdi>",
        word("mix.binder"): "<bdi>{binder_grade}</bdi>",
        word("mix.nmas" if current().units == "us" else "sample.nmas"): "{nmas_text}",
        "Pb, %": "{pb_pct_text}",
        "Gmm": "{gmm_text}",
        "Va, %": "{air_voids_pct_text}",
        "VMA, %": "{vma_pct_text}",
        word("mix_page.n_design"): "{n_design}",
        word("mix.recycled"): "{recycled_pct_text}",
    }
    ordered = rows.drop_nulls("mix_id").sort("mix_id", "revision", descending=[False, True], nulls_last=True)
    return tables_by_owner(ordered, "mix_id", columns)


def _named_sieve() -> pl.Expr:
    """Return the nominal maximum size as sieves are called, null where they are called by their opening."""
    if current().units != "us":
        return pl.lit(None, pl.String)
    named = pl.col("nmas_mm").replace_strict(SIEVE_DESIGNATIONS, default=None, return_dtype=pl.String)
    return pl.coalesce(named, filled("at.sieve", at=fixed(pl.col("nmas_mm"), pl.lit(2))))


def _register(tables: Tables, samples: pl.DataFrame) -> pl.DataFrame:
    """Return mix_id and project_id, one row per project that designs or samples the mix."""
    pairs = [frame.select("mix_id", "project_id") for frame in (take(tables, "mixes"), samples)]
    return pl.concat(pairs).drop_nulls("mix_id").unique().sort("mix_id", "project_id", nulls_last=True)


def mix_pages(tables: Tables, scope: frozenset[str] | None) -> Iterator[tuple[str, bytes]]:
    """Yield slug and page of every mix of the projects in the scope.

    Parameters
    ----------
    tables
        The tables handed in (`verbs.tables.TABLES`).
    scope
        Ids of the projects; None is all.
    """
    projects, samples = register(tables)
    pairs = _register(tables, samples)
    chosen = pairs if scope is None else pairs.filter(pl.col("project_id").is_in(sorted(scope)))
    wanted = slugs(chosen["mix_id"])
    cut = {name: _of(frame, wanted) for name, frame in tables.items()}
    phases = _phases(cut)
    state, events = _states(cut, samples)
    plots, legends, sieves = gradation.sections(cut, phases)
    drawn, listed = mix_trends.trends(cut, samples)
    parts: dict[str, dict[str, str]] = {
        "state_html": state,
        "events_html": events,
        "phases_html": _side_by_side(phases),
        "trends_html": drawn,
        "listed_html": listed,
        "rut_html": mix_curves.rutting(cut, samples),
        "density_html": mix_curves.densification(cut, samples),
        "blend_html": blends(cut),
        "gradation_html": _plots(plots, legends, sieves),
        "revisions_html": _revisions(cut),
        "projects_html": _projects(pairs, projects),
    }
    stamp, labels = as_of(tables), dict(wanted.select("mix_id", clipped(pl.col("mix_id"), 120)
                                                      .alias("label")).iter_rows())  # fmt: skip
    for name, slug in wanted.sort("mix_id").iter_rows():
        filled: dict[str, Any] = {part: made.get(name, "") for part, made in parts.items()}
        yield slug, page("mix.html", stamp, title=labels[name], curve_points=CURVE_POINTS, curve_samples=MIX_SAMPLES,
                         **filled)  # fmt: skip


def _of(frame: pl.DataFrame, wanted: pl.DataFrame) -> pl.DataFrame:
    if "mix_id" not in frame.columns:
        return frame
    return frame.join(wanted.select("mix_id"), on="mix_id", how="semi", maintain_order="left")


def _projects(pairs: pl.DataFrame, projects: pl.DataFrame) -> dict[str, str]:
    rows = pairs.join(projects.select("project_id", "project_name", "slug"), on="project_id", maintain_order="left")
    link = fill(
        '<a href="../project/{slug}.html"><bdi>{label}</bdi></a>',
        label=clipped(pl.coalesce("project_name", "project_id"), 80),
    )
    return dict(gathered(rows.select("mix_id", link.alias("link_html")), ["mix_id"], "link_html", ", ").iter_rows())


def _plots(*pieces: dict[tuple[str, int], str]) -> dict[str, str]:
    """Return mix -> the blocks of its revisions, the latest first; each piece is keyed by mix and revision."""
    keys = sorted(set().union(*pieces), key=lambda key: (key[0], -key[1]))
    blocks: dict[str, str] = {}
    for key in keys:
        plot, legend, table = (piece.get(key, "") for piece in pieces)
        head = word("mix_page.revision").format(key[1])
        block = f'<h3>{head}</h3><div class="plots"><div>{plot}{legend}</div><div>{table}</div></div>'
        blocks[key[0]] = blocks.get(key[0], "") + block
    return blocks
