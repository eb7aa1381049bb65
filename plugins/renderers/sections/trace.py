"""Where the figures come from: equation, readings, instrument, export, line."""

import polars as pl

from plugins.renderers.sections.model import Model
from plugins.renderers.verbs.markup import by_owner, clipped, fill, gathered, given
from plugins.renderers.verbs.results import own_ways
from plugins.renderers.verbs.shell import tables_of
from plugins.renderers.verbs.slugs import slug
from plugins.renderers.verbs.tables import take, within
from plugins.renderers.verbs.words import defined, group, word
from schemas.units import SUFFIXES
from schemas.vocabulary import MassRole, Method

_METHOD = ["sample_id", "method"]
_SPECIMEN = [*_METHOD, "specimen_no"]
#: Characters of a raw line that are shown.
RAW_SHOWN = 500
_METHODS = {str(method.value): method for method in Method}
_FIELDS = {f"mass_{role.value}": role for role in MassRole}
_MASS_UNIT = "g"
#: Suffix of a stored column -> unit, the longest suffix first.
_SUFFIXES = sorted(((suffix, unit) for unit, suffix in SUFFIXES.items()), key=lambda pair: -len(pair[0]))


def _columns() -> dict[str, str]:
    return {
        word("trace.reading"): '{what}<span class="small">{meaning}</span>',
        word("trace.value"): "<bdi>{value}</bdi>",
        word("head.instrument"): "<bdi>{instrument}</bdi>",
        word("trace.export"): "<bdi>{file}</bdi>",
        word("head.place"): "<bdi>{spot}</bdi>",
        word("trace.raw"): "{raw_html}",
    }


def method_titles(methods: pl.Series) -> pl.DataFrame:
    """Return columns method, method_title, method_anchor for the distinct methods of a column."""
    distinct = methods.drop_nulls().unique(maintain_order=True).to_list()
    return pl.DataFrame(
        {
            "method": distinct,
            "method_title": [defined(_METHODS[name]) if name in _METHODS else name for name in distinct],
            "method_anchor": [f"m-{slug(name)}" for name in distinct],
        },
        schema={"method": pl.String(), "method_title": pl.String(), "method_anchor": pl.String()},
    )


def equation_html() -> pl.Expr:
    """Return the equation of a property, of columns symbol, name, equation; nothing where none is stated."""
    whole = pl.col("equation").str.contains("=", literal=True)
    left = pl.when(whole).then(pl.lit("")).otherwise(pl.concat_str(pl.coalesce("symbol", "name"), pl.lit(" = ")))
    return given("equation", fill("<code>{left}{equation}</code>", left=left))


def _field(name: str) -> tuple[str, str | None, str | None]:
    """Return a field's words, unit and meaning: `water_temperature_c` is `water temperature` in °C.

    A catalogue may word a field in its group `field`, by its name without the unit.
    """
    head, _, rest = name.partition(" ")
    role = _FIELDS.get(head)
    found = next(((suffix, unit) for suffix, unit in _SUFFIXES if not role and head.endswith(suffix)), ("", None))
    head, unit = head.removesuffix(found[0]), _MASS_UNIT if role else found[1]
    words = f"{group('field').get(head, head)} {rest}".replace("_", " ").strip()
    return words, unit, defined(role) if role else None


def _fields(names: pl.Series) -> pl.DataFrame:
    """Return columns field, what, field_unit, meaning for the distinct fields of a column."""
    distinct = names.drop_nulls().unique(maintain_order=True).to_list()
    told = [_field(name) for name in distinct]
    frame = pl.DataFrame(
        {
            "field": distinct,
            **{key: [row[i] for row in told] for i, key in enumerate(("what", "field_unit", "meaning"))},
        },
        schema=dict.fromkeys(("field", "what", "field_unit", "meaning"), pl.String()),
    )
    return frame.with_columns(clipped(pl.col("what"), 80).alias("what"))


def _equations(parts: Model, scope: frozenset[str] | None) -> pl.DataFrame:
    """Return, per method, the equations of its figures: columns sample_id, method, equations_html."""
    values = within(take(parts.tables, "specimen_values"), "sample_id", scope).select(*_METHOD, "property")
    named = parts.naming.unique("property", keep="first", maintain_order=True)
    item = fill(
        '<li>{name}: {equation_html} <span class="small">{source}</span></li>',
        source=_source(),
        equation_html=equation_html(),
    )
    rows = values.unique(maintain_order=True).join(named, on="property", how="left", maintain_order="left")
    rows = own_ways(rows, take(parts.tables, "ways").drop_nulls("method"))
    lines = gathered(rows.select(*_METHOD, item.alias("equations_html")), _METHOD, "equations_html")
    return lines.with_columns(fill('<ul class="eq">{equations_html}</ul>').alias("equations_html"))


def _source() -> pl.Expr:
    return pl.concat_str("standard", "section", separator=", ", ignore_nulls=True)


def _inputs(parts: Model, scope: frozenset[str] | None) -> pl.DataFrame:
    """Return, per specimen, the table of its readings: columns of `_SPECIMEN`, table_html."""
    rows = within(take(parts.tables, "inputs"), "sample_id", scope)
    raw = given("raw_line", fill("<code>{raw}</code>", raw=clipped(pl.col("raw_line"), RAW_SHOWN)))
    # A bare number gets the unit its column is stored in; a text that brings its own stays as it is.
    bare = pl.col("value_text").str.contains(r"^[-+0-9.]+$") & pl.col("field_unit").is_not_null()
    value = pl.when(bare).then(pl.concat_str("value_text", pl.lit(" "), "field_unit")).otherwise(pl.col("value_text"))
    shown = rows.join(_fields(rows["field"]), on="field", how="left", maintain_order="left").with_columns(
        clipped(value, 80).alias("value"),
        clipped(pl.col("instrument_id"), 60).alias("instrument"),
        clipped(pl.col("file_name"), 120).alias("file"),
        clipped(pl.col("place"), 80).alias("spot"),
        raw.alias("raw_html"),
    )
    return tables_of(shown, _SPECIMEN, _columns())


def _specimens(parts: Model, scope: frozenset[str] | None) -> pl.DataFrame:
    """Return, per method, its specimens with their readings: columns sample_id, method, block_html."""
    inputs = _inputs(parts, scope)
    values = within(take(parts.tables, "specimen_values"), "sample_id", scope).select(_SPECIMEN)
    keys = pl.concat([inputs.select(_SPECIMEN), values]).unique(maintain_order=True)
    blocks = keys.join(inputs, on=_SPECIMEN, how="left", nulls_equal=True, maintain_order="left").sort(
        _SPECIMEN, nulls_last=True, maintain_order=True
    )
    none = fill('<p class="empty small">{words}</p>', words=pl.lit(word("trace.no_reading")))
    head = fill(
        "<h4>{word} <bdi>{no}</bdi></h4>",
        word=pl.lit(word("head.specimen")),
        no=clipped(pl.col("specimen_no"), 60),
    )
    block = fill(
        "{head_html}{table_html}", head_html=given("specimen_no", head), table_html=pl.coalesce("table_html", none)
    )
    return gathered(blocks.select(*_METHOD, block.alias("block_html")), _METHOD, "block_html")


def traces(parts: Model, scope: frozenset[str] | None) -> dict[str, str]:
    """Return sample -> its figures' equations and readings, by method and specimen."""
    methods = (
        _specimens(parts, scope)
        .join(_equations(parts, scope), on=_METHOD, how="left", nulls_equal=True, maintain_order="left")
        .sort(_METHOD, nulls_last=True, maintain_order=True)
    )
    titled = methods.join(method_titles(methods["method"]), on="method", how="left", maintain_order="left")
    section = fill(
        '<section id="{anchor}"><h3>{title}</h3>{equations_html}{block_html}</section>',
        anchor=pl.col("method_anchor").fill_null("m-other"),
        title=clipped(pl.coalesce("method_title", pl.lit(word("trace.other"))), 120),
    )
    return by_owner(titled.select("sample_id", section.alias("section_html")), "sample_id", "section_html")
