"""What the office writes: register books, mix cards and limits cards."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

import polars as pl

from pipeline import report_card
from pipeline.judge import sampling
from pipeline.sampling_card import card
from tests.scenario import mixture
from tests.scenario.formats import cards
from tests.scenario.formats.book import Cell, book
from tests.scenario.formats.mixbook import mixbook
from tests.scenario.plan import Mix, Plan, Sample, read

Row = tuple[Cell, ...]

_OPENED = date(2026, 3, 2)
#: Mixes whose designer sends workbooks, not cards.
_IN_WORKBOOKS = frozenset({"SKELL-S12"})
_PLACES = {"verification": "laboratory batch", "startup": "plant, truck", "production": "behind the paver"}
_ELSEWHERE = {"core": "finished mat", "aggregate": "stockpiles, blended"}


def _month_end(day: date) -> date:
    return (day.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)


def sample_row(sample: Sample) -> Row:
    """Return the row of a sample on the sheet `Samples`."""
    _, revision = sample.mix.revision(sample.taken_on)
    place = _PLACES[sample.phase] if sample.material == "mix" else _ELSEWHERE[sample.material]
    return (
        sample.label,
        sample.mix.project["id"],
        sample.mix.id,
        sample.material,
        sample.phase,
        sample.laboratory,
        sample.lot,
        sample.sublot,
        sample.taken_on,
        place,
        sample.tonnage,
        revision["pb"] if sample.material == "mix" and sample.phase == "verification" else None,
        None,
        sample.split_of.label if sample.split_of else None,
    )


def _calibrations(plan: Plan, after: date, until: date) -> list[Row]:
    return [
        (instrument["id"], *row)
        for instrument in plan.instruments
        for row in instrument["calibrated"]
        if after < row[0] <= until
    ]


def _opening_book(plan: Plan) -> dict[str, Sequence[Row]]:
    return {
        "Laboratories": [(house["id"], house["name"], house["region"]) for house in plan.laboratories.values()],
        "Projects": [
            (p["id"], p["name"], p["character"], p["client"], p["laboratory"], p["set"]) for p in plan.projects
        ],
        "Instruments": [(i["id"], i["id"].split("-")[0], i["kind"], i.get("readability_g")) for i in plan.instruments],
        "Calibrations": _calibrations(plan, date.min, _OPENED),
    }


def books(plan: Plan, core_rows: dict[str, list[Row]]) -> Iterator[tuple[str, bytes]]:
    """Yield the register of the start of the season, then one book a month with what was added."""
    yield f"register_book/register-{_OPENED}.xlsx", book(datetime.combine(_OPENED, time(8)), _opening_book(plan))
    before = _OPENED
    for end in sorted({_month_end(sample.taken_on) for sample in plan.samples}):
        month = [sample for sample in plan.samples if before < sample.taken_on <= end]
        sheets: dict[str, Sequence[Row]] = {
            "Samples": [sample_row(sample) for sample in month],
            "Calibrations": _calibrations(plan, before, end),
            "Cores": [row for sample in month for row in core_rows.get(sample.label, ())],
        }
        yield f"register_book/register-{end}.xlsx", book(datetime.combine(end, time(16, 30)), sheets)
        before = end


def _mix_design(mix: Mix, number: int, revision: dict[str, Any]) -> tuple[dict[str, Any], dict[str, int]]:
    """Return head and gyration levels of one revision."""
    given = mix.given
    gmm = mixture.maximum_gravity(revision["pb"], revision["gse"], given["gb"])
    gsb = revision.get("gsb")
    written = datetime.combine(revision["valid_from"] - timedelta(days=3), time(10, 15))
    head: dict[str, cards.Value] = {
        "written": written,
        "mix": mix.id,
        "revision": number,
        "valid_from": revision["valid_from"],
        "project": mix.project["id"],
        "plant": given["plant"],
        "nmas_mm": given["nmas_mm"],
        "binder": given["binder"],
        "gb": given["gb"],
        "pb_pct": revision["pb"],
        "gsb": gsb,
        "gmm": round(gmm, 3),
        "air_voids_pct": 4.0,
        "vma_pct": None if gsb is None else round(mixture.design_vma(revision["pb"], gsb, gmm), 1),
        "ignition_correction_pct": given["correction_pct"],
        "recycled_pct": given["recycled_pct"],
    }
    levels = zip(("initial", "design", "maximum"), mix.project["gyrations"], strict=True)
    return head, dict(levels)


def mix_cards(plan: Plan) -> Iterator[tuple[str, bytes]]:
    """Yield one card per revision of each mix."""
    for mix in plan.mixes:
        for number, revision in enumerate(mix.given["revisions"], start=1):
            head, levels = _mix_design(mix, number, revision)
            if mix.id in _IN_WORKBOOKS:
                yield f"mix_book/{mix.id}-r{number}.xlsx", mixbook(head | levels, mix.gradation)
            else:
                yield (
                    f"mix_card/{mix.id}-r{number}.toml",
                    cards.mix_card(head, levels, mix.gradation, mix.stockpiles(revision)),
                )


def _limit(rule: dict[str, Any], sources: dict[str, dict[str, str]]) -> dict[str, cards.Value]:
    source = sources[rule["source"]]
    return {
        "id": rule["id"],
        "property": rule["property"],
        "at": rule.get("at"),
        "phase": rule.get("phase"),
        "unit": rule.get("unit"),
        "use": rule.get("use"),
        "average_of": rule.get("average_of"),
        "material": rule.get("material", "mix"),
        "nmas_mm": rule.get("nmas_mm"),
        "binder": rule.get("binder"),
        "basis": rule.get("basis", "absolute"),
        "lower": rule.get("lower"),
        "upper": rule.get("upper"),
        "clip_lower": rule.get("clip_lower"),
        "clip_upper": rule.get("clip_upper"),
        "required": rule.get("required", False),
        "excluding": rule.get("excluding", []),
        "source": source["text"],
        "mark": source.get("mark"),
    }


def limits_cards() -> Iterator[tuple[str, bytes]]:
    """Yield one card per specification set: the limits of its groups, then its own."""
    given = read("limits")
    for one in given["set"]:
        rules: Iterable[dict[str, Any]] = [rule for name in one["groups"] for rule in given["group"][name]]
        head: dict[str, cards.Value] = {
            "written": datetime(2026, 2, 27, 9, 0),
            "set": one["id"],
            "valid_from": date(2026, 1, 1),
            **one.get("head", {}),
        }
        sections = given["rules"] | one.get("rules", {})
        rows = {"limit": [_limit(rule, given["source"]) for rule in [*rules, *one["limits"]]]}
        for name in ("plan", "pay", "precision", "applies"):
            rows[name] = [_sourced(row, given["source"]) for row in one.get(name, ())]
        yield f"limits_card/{one['id']}.toml", cards.limits_card(head, sections, rows)


def sampling_cards() -> Iterator[tuple[str, bytes]]:
    """Yield the places drawn for one lot of loose mix and one of cores."""
    draws = (
        ("FALLOW", "FALLOW-S12", "3", 417, sampling.by_tonnage(sampling.numbers(417, 5), 3500.0)),
        ("SEDGE", "SEDGE-S9", "2", 902, sampling.by_place(sampling.numbers(902, 10), 1200.0, 800.0, 3.6, 0.3, -1.8)),
    )
    for project, mix, lot, seed, places in draws:
        name = f"{project}-{mix}-{lot}-{seed}"
        head: dict[str, str | int | None] = {
            "draw": name,
            "project": project,
            "mix": mix,
            "lot": lot,
            "seed": seed,
            "generator": sampling.GENERATOR,
            "drawn_by": "laboratory in charge",
        }
        yield f"sampling_card/{name}.toml", card(head, datetime(2026, 5, 4, 7, 30), places).encode()


def report_cards() -> Iterator[tuple[str, bytes]]:
    """Yield the card of a report issued before one of its figures was corrected; its page was not kept."""
    given = read("issued")
    entries = pl.DataFrame(given["entries"], schema=dict.fromkeys(report_card.ENTRY, pl.String))
    head = {
        "written": given["written"].isoformat(),
        **{name: given[name] for name in ("report", "sample", "issue", "figures_run")},
        "figures_at": given["figures_at"].isoformat(),
        "content": report_card.content_hash(entries),
        "version": "0.1.0",
    }
    yield f"report_card/{given['report']}.json", report_card.card(head, entries, pl.DataFrame(), None)


def _sourced(row: dict[str, Any], sources: dict[str, dict[str, str]]) -> dict[str, cards.Value]:
    """Return a row with its source in words."""
    if "source" not in row:
        return row
    source = sources[row["source"]]
    return {**row, "source": source["text"], "mark": source.get("mark")}
