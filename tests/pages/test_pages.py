"""Pages as a whole: self-contained, linked, deterministic, in scope, and true to the tables handed in."""

import base64
import hashlib
import posixpath
import re
import statistics

import polars as pl
import pytest

from plugins.api import Scope
from plugins.renderers.sections.sample_pages import sample_pages
from plugins.renderers.verbs.slugs import slug
from tests.pages import invented
from tests.pages.conftest import render
from tests.pages.reading import read, rows

#: Pages of everything, which no scope narrows.
_WHOLE = {"summary.html", "due.html", "quality.html"}


def test_every_project_and_sample_has_a_page(whole, pages) -> None:
    expected = set(_WHOLE)
    expected |= {f"project/{slug(name)}.html" for name in whole["projects"]["project_id"]}
    expected |= {f"mix/{slug(name)}.html" for name in whole["samples"]["mix_id"]}
    expected |= {f"sample/{slug(name)}.html" for name in whole["samples"]["sample_id"]}
    assert set(pages) == expected


def _own_script(page: str) -> str:
    """Return the page's one script, which its policy must name by hash and no other (CSP level 3, hash-source)."""
    found = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', page)
    assert policy and policy[1].startswith("default-src 'none';")
    allowed = re.findall(r"script-src ([^;]*)", policy[1])
    hashes = [f"'sha256-{base64.b64encode(hashlib.sha256(each.encode()).digest()).decode()}'" for each in found]
    assert allowed == hashes and len(found) <= 1
    return "".join(found)


def test_nothing_is_fetched_and_only_our_own_script_runs(pages) -> None:
    assert _own_script(pages["summary.html"])
    for path, whole_page in pages.items():
        script = _own_script(whole_page)
        assert not re.search(r"fetch|XMLHttp|import|WebSocket|sendBeacon|eval|innerHTML|document\.write|cookie|storage",
                             script), path  # fmt: skip
        assert path == "summary.html" or not script, path
        page = whole_page.replace(f"<script>{script}</script>", "") if script else whole_page
        assert not re.search(r"(?i)https?:|//[a-z]|@import|url\(|<script|javascript:|\son\w+=", page), path
        assert "data:" not in page.replace('href="data:,"', "").replace("img-src data:", ""), path


def test_markup_nests_and_ids_are_unique(pages) -> None:
    for path, page in pages.items():
        seen = read(page)
        assert not seen.faults, path
        assert len(seen.ids) == len(set(seen.ids)), path


def test_every_link_leads_somewhere(pages) -> None:
    ids = {path: set(read(page).ids) for path, page in pages.items()}
    checked = 0
    for path, page in pages.items():
        for link in read(page).links:
            if link == "data:,":
                continue
            target, _, anchor = link.partition("#")
            whole_path = posixpath.normpath(posixpath.join(posixpath.dirname(path), target)) if target else path
            assert whole_path in pages, f"{path} links to {link}"
            assert not anchor or anchor in ids[whole_path], f"{path} links to {link}"
            checked += 1
    assert checked > 500


def test_the_same_tables_give_the_same_bytes_in_any_order_of_results(whole, pages) -> None:
    assert render(whole) == pages
    shuffled = {**whole, "samples": whole["samples"].sample(fraction=1.0, shuffle=True, seed=3)}
    shuffled["projects"] = whole["projects"].reverse()
    assert render(shuffled) == pages


def test_scope_narrows_project_and_sample_pages_but_never_the_summary(whole, pages) -> None:
    some = render(whole, Scope(projects=frozenset({"FIELD-7"}), samples=frozenset({"HB-0003", "not registered"})))
    assert set(some) == {*_WHOLE, "project/FIELD-7.html", "mix/FIELD-7-A.html", "sample/HB-0003.html"}
    assert all(pages[path] == page for path, page in some.items())
    assert set(render(whole, Scope(projects=frozenset(), samples=frozenset()))) == _WHOLE


def test_pages_say_when_they_are_from_and_what_to_mind(pages) -> None:
    for path, page in pages.items():
        text = read(page).text
        assert "As of run 12, 2026-05-14 17:02 UTC" in text, path
        assert "never replace" in text and "burn" in text, path


def test_means_and_spreads_of_the_summary_equal_the_handed_values(whole, pages) -> None:
    owner = dict(whole["samples"].select("sample_id", "project_id").iter_rows())
    name_of = dict(whole["projects"].select("project_id", "project_name").iter_rows())
    declined = {
        (row["sample_id"], row["property"], row["point"])
        for row in whole["judgements"].iter_rows(named=True)
        if row["verdict"] == "not_judged"
    }
    decimals = dict(whole["properties"].select("property", "decimals").iter_rows())
    cells = {row[0]: row for row in rows(pages["summary.html"]) if len(row) == 14}
    headed = ["air_voids", "vma", "vfa", "pb", "relative_compaction", "rut_depth", "dust_proportion"]
    checked = 0
    for project, name in name_of.items():
        row = next(cells for first, cells in cells.items() if first.startswith(name))
        for place, prop in enumerate(headed):
            values = [
                v["value"]
                for v in whole["sample_values"].iter_rows(named=True)
                if owner[v["sample_id"]] == project and v["property"] == prop and v["value"] is not None
                and (v["sample_id"], prop, v["point"]) not in declined
            ]  # fmt: skip
            mean = invented.half_even(statistics.fmean(values), decimals[prop])
            assert f" {mean} " in f" {row[2 + place]} ", (name, prop)
            assert f"n {len(values)}" in row[2 + place]
            if len(values) > 1:
                assert f"± {invented.half_even(statistics.stdev(values), decimals[prop])}" in row[2 + place]
            checked += 1
    assert checked == 35


def test_shares_and_counts_of_the_summary_equal_the_handed_rows(whole, pages) -> None:
    owner = dict(whole["samples"].select("sample_id", "project_id").iter_rows())
    cells = [row for row in rows(pages["summary.html"], "all") if len(row) == 14]
    groups = {"overdue": 10, "late": 10, "missing": 10, "in_doubt": 11, "retest": 12, "stop": 12, "calibration": 12}
    for project, name in whole["projects"].select("project_id", "project_name").iter_rows():
        row = next(found for found in cells if found[0].startswith(name))
        verdicts = [j["verdict"] for j in whole["judgements"].iter_rows(named=True) if owner[j["sample_id"]] == project]
        passed, failed = verdicts.count("pass"), verdicts.count("fail")
        assert f"{100 * failed / (passed + failed):.0f} % {failed} of {passed + failed}" in row[9]
        items = [item["kind"] for item in whole["work"].iter_rows(named=True) if item["project_id"] == project]
        for place in (10, 11, 12):
            assert row[place].endswith(f" {sum(groups[kind] == place for kind in items)}"), (name, place)
        refused = sum(
            (r["project_id"] or owner.get(r["sample_id"])) == project for r in whole["refusals"].iter_rows(named=True)
        )
        assert row[13].endswith(f" {refused}")


def test_the_percent_within_limits_of_the_lots_stands_in_the_cell_of_its_result(whole, pages) -> None:
    cells = [row for row in rows(pages["summary.html"], "all") if len(row) == 14]
    for project, name in whole["projects"].select("project_id", "project_name").iter_rows():
        lots = whole["lots"].filter(pl.col("project_id") == project)["within_pct"].to_list()
        row = next(found for found in cells if found[0].startswith(name))
        said = f"PWL {invented.half_even(statistics.fmean(lots), 1)} %, least {invented.half_even(min(lots), 1)}"
        assert [said in cell for cell in row] == [place == 6 for place in range(14)], "density stands in column 6"


def test_every_cell_of_the_summary_opens_the_list_of_its_samples(whole, pages) -> None:
    """The list holds exactly the samples with the result, each with its figure."""
    owner = dict(whole["samples"].select("sample_id", "project_id").iter_rows())
    opened = re.findall(r'href="(project/[\w-]+\.html)#(s-[\w-]+)"', pages["summary.html"])
    assert len(opened) >= 35
    names = {slug(f"{p} {at!r}" if at is not None else p): (p, at) for p, at in
             whole["sample_values"].select("property", "point").unique().iter_rows()}  # fmt: skip
    for path, anchor in opened:
        project = path.removeprefix("project/").removesuffix(".html")
        listed = pages[path].split(f'id="{anchor}">')[1].split("</ul>")[0]
        shown = re.findall(r'href="\.\./sample/[\w-]+\.html"><bdi>([^<]*)</bdi></a> ([\d.]+|withheld)', listed)
        name, point = names[anchor.removeprefix("s-")]
        handed = [
            (v["sample_id"], v["text"] or "withheld")
            for v in whole["sample_values"].iter_rows(named=True)
            if owner[v["sample_id"]] == project and v["property"] == name and v["point"] == point
        ]
        assert sorted(shown) == sorted(handed), (path, anchor)


def test_the_worst_result_is_the_one_farthest_outside(whole, pages) -> None:
    owner = dict(whole["samples"].select("sample_id", "project_id").iter_rows())

    def share(row: dict) -> float:
        away = max(
            (row["value"] - row["upper"]) if row["upper"] is not None else -1e9,
            (row["lower"] - row["value"]) if row["lower"] is not None else -1e9,
        )
        both = row["upper"] is not None and row["lower"] is not None
        return away / (row["upper"] - row["lower"] if both else abs(row["upper"] or row["lower"]))

    failing = [row for row in whole["judgements"].iter_rows(named=True) if row["verdict"] == "fail"]
    cells = [row for row in rows(pages["summary.html"], "all") if len(row) == 14]
    for project, name in whole["projects"].select("project_id", "project_name").iter_rows():
        worst = max((row for row in failing if owner[row["sample_id"]] == project), key=share)
        row = next(found for found in cells if found[0].startswith(name))
        assert worst["sample_id"] in row[9]


def test_the_summary_says_from_which_days_it_is(whole, pages) -> None:
    days = whole["samples"]["taken_on"].to_list()
    assert f"samples taken {min(days)} to {max(days)}." in read(pages["summary.html"]).text


def test_laboratories_stand_side_by_side_as_handed(whole, pages) -> None:
    found = rows(pages["summary.html"], "laboratories")
    laboratories = whole["laboratories"].to_dicts()
    for row, laboratory in zip(found, laboratories, strict=False):
        name = laboratory["laboratory_id"]
        figures = whole["laboratory_figures"].filter(pl.col("laboratory_id") == name)
        off = figures.filter(pl.col("property") == "air_voids")["mean_off_target"].item()
        assert row[0].startswith(f"{name} laboratory") and row[1].startswith(str(laboratory["samples"]))
        # Halves go to the even digit: 0.25 is 0.2 and 0.125 is 0.1 at one decimal (ASTM E29).
        assert row[2].startswith(invented.half_even(off, 1).replace("-", "−")) and "specimens ± 0.1" in row[2]
        assert "no target" in row[3]
        beyond = f"{laboratory['duplicates_beyond']} of {laboratory['duplicates']}"
        assert row[4] == (beyond if laboratory["duplicates"] else "none judged")
        assert row[5] == ("1.5, 6 n 18" if laboratory["timed"] else "not dated")
        assert row[6] == ("3" if name == laboratories[0]["laboratory_id"] else "0")
    assert "of no one laboratory, such as files that no importer knows: 3." in read(pages["summary.html"]).text
    split = [row for row in found if row[0] == "HB less QL"]
    assert [row[2:] for row in split] == [
        ["3", "0.48 ± 0.14 %", "< 0.0001", "✕ beyond chance"],
        ["3", "0.4750 ± 0.1360", "0.5000", "✓ no more than chance"],
        ["3", "0.475 ± 0.136 %", "", "○ not judged one pair"],
    ]


def test_plants_stand_side_by_side_as_handed(whole, pages) -> None:
    found = rows(pages["summary.html"], "plants")
    assert [row[0] for row in found] == whole["plants"]["plant"].to_list()
    for place, row in enumerate(found):
        assert row[1] == "14 last taken 2026-05-09" and row[2] == "2"
        assert row[3].startswith("−0.2 ± 0.4") and row[3].endswith(f"{place} of 14 outside")


def test_the_samples_behind_laboratories_and_plants_are_listed(whole, pages) -> None:
    page = pages["summary.html"]
    for column, prefix in (("laboratory_id", "lab-"), ("plant", "plant-")):
        for name in whole["samples"][column].unique():
            listed = page.split(f'id="{prefix}{slug(name)}">')[1].split("</ul>")[0]
            counts = dict(re.findall(r'project/([\w-]+)\.html#samples.*?class="more">(\d+)<', listed))
            handed = whole["samples"].filter(pl.col(column) == name).group_by("project_id").len()
            assert counts == {project: str(count) for project, count in handed.iter_rows()}
    pairs = page.split("Split samples of <bdi>HB and QL</bdi>")[1].split("</ul>")[0]
    assert re.findall(r"<bdi>([^<]+)</bdi>", pairs) == [
        name for row in whole["split_pairs"].iter_rows(named=True) for name in (row["sample_id"], row["other_id"])
    ]


def test_a_sample_page_shows_every_result_as_handed_with_its_verdicts(whole, pages) -> None:
    words = {"pass": "within", "not_judged": "not judged"}
    for sample in ("HB-0000", "HB-0008", "QL-0021"):
        shown = rows(pages[f"sample/{sample}.html"], "results")
        values = whole["sample_values"].filter(pl.col("sample_id") == sample)
        assert len(shown) == values.height
        text = " | ".join(" ; ".join(row) for row in shown)
        for value in values.iter_rows(named=True):
            assert (value["text"] or value["withheld"]) in text
        for judgement in whole["judgements"].filter(pl.col("sample_id") == sample).iter_rows(named=True):
            assert words.get(judgement["verdict"], "") in text


def test_a_figure_stands_with_its_standard_uncertainty_where_it_is_known(whole, pages) -> None:
    shown = " ".join(" ; ".join(row) for row in rows(pages["sample/HB-0000.html"], "results"))
    assert "± 0.0024 (u, k = 1)" in shown
    unknown = whole["sample_values"].with_columns(uncertainty=pl.lit(None, pl.Float64))
    without = dict(sample_pages(whole | {"sample_values": unknown}, frozenset({"HB-0000"})))
    (page,) = without.values()
    assert "k = 1" not in page.decode()


def test_every_reading_leads_to_file_place_and_raw_line(whole, pages) -> None:
    found = rows(pages["sample/HB-0008.html"], "trace")
    handed = whole["inputs"].filter(pl.col("sample_id") == "HB-0008")
    assert len(found) == handed.height
    for row, given in zip(
        sorted(found, key=lambda row: row[4:]),
        sorted(handed.iter_rows(named=True), key=lambda row: [row["place"], row["raw_line"]]),
        strict=True,
    ):
        assert row[1:3] == [given["value_text"], given["instrument_id"]]
        assert row[3:5] == [given["file_name"], given["place"]]
        assert row[5] == " ".join(given["raw_line"].split())


def test_flags_stand_as_sentences(whole, pages) -> None:
    flagged = whole["sample_values"].filter(pl.col("flags") == "bath_temperature")["sample_id"][0]
    page = read(pages[f"sample/{slug(flagged)}.html"]).text
    assert "The water bath was outside the range of the method." in page
    assert "Limit: 25 ± 1 °C." in page
    unknown = whole["sample_values"].with_columns(pl.lit("no_such_flag").alias("flags"))
    assert "no_such_flag" in read(render({**whole, "sample_values": unknown})[f"sample/{slug(flagged)}.html"]).text


def test_refusals_are_listed_up_to_200_and_counted(whole) -> None:
    many = pl.DataFrame(
        {"file_name": [f"f{i:03}" for i in range(250)], "stage": ["read"] * 250, "reason": ["torn"] * 250}
    )
    page = render({**whole, "refusals": many}, Scope(frozenset(), frozenset()))["summary.html"]
    assert "250 in all, the first 200 are listed" in " ".join(read(page).text.split())
    assert len(rows(page, "refused")) == 200


def test_a_gap_of_a_pattern_is_no_way_in_for_text(whole) -> None:
    names = whole["properties"].with_columns(pl.lit("{slug}{{x}} <b>").alias("name"), pl.lit("{evil}").alias("symbol"))
    made = render({**whole, "properties": names})
    assert "{slug}{{x}} <b>" in read(made["summary.html"]).text
    assert "{evil}" in read(made["sample/HB-0008.html"]).text


@pytest.mark.parametrize("count", [1, 400])
def test_one_sample_and_four_hundred(count: int) -> None:
    made = render(invented.tables(projects=1, per_project=count, passes=1000))
    assert len(made) == 5 + count
    assert f"1 project, {count} sample" in made["summary.html"]


def test_no_data_at_all_still_says_something() -> None:
    made = render({})
    assert set(made) == _WHOLE
    text = read(made["summary.html"]).text
    for sentence in ("0 projects, 0 samples", "no project yet", "Nothing was refused", "No run has been stored yet."):
        assert sentence in text


def test_a_register_without_any_result() -> None:
    made = invented.tables(projects=2, per_project=2)
    made = {name: made[name] for name in ("run", "projects", "samples")}
    pages = render(made)
    assert "Nothing has been judged against a limit yet." in pages["summary.html"]
    assert "No result yet" in pages["project/HARBOUR-2.html"]
    assert (
        "No result yet" in pages["sample/HB-0000.html"] and "No reading of this sample" in pages["sample/HB-0000.html"]
    )


def test_no_limits_means_figures_without_verdicts(whole) -> None:
    bare = {name: frame for name, frame in whole.items() if name != "judgements"}
    bare["projects"] = whole["projects"].with_columns(pl.lit(None, pl.String).alias("set_id"))
    made = render(bare)
    row = next(row for row in rows(made["summary.html"]) if row[0].startswith("Harbour"))
    assert "no limit" in row[2] and "±" in row[2] and "nothing judged" in row[9]
    assert "outside" not in row[9].replace("Outside limits", ""), "without limits there is nothing to be outside of"
    assert "results are not judged" in made["project/HARBOUR-2.html"]
    assert "outside" not in read(made["sample/HB-0008.html"]).text


def test_all_failing_says_so_everywhere(whole) -> None:
    worse = whole["judgements"].with_columns(
        pl.lit("fail").alias("verdict"),
        pl.lit(99.0).alias("value"),
        pl.lit(1.0).alias("upper"),
        pl.lit(0.5).alias("lower"),
    )
    made = render({**whole, "judgements": worse})
    cells = [row for row in rows(made["summary.html"], "all") if len(row) == 14]
    assert len(cells) == 5
    for row in cells:
        assert "100 %" in row[9] and "above" in row[9]
    assert "within" not in " ".join(" ".join(row) for row in rows(made["sample/HB-0008.html"], "results"))


def test_a_sample_of_an_unknown_project_is_shown_apart(whole) -> None:
    strayed = whole["samples"].with_columns(
        pl.when(pl.col("sample_id") == "HB-0008").then(pl.lit("NOWHERE")).otherwise("project_id").alias("project_id")
    )
    made = render({**whole, "samples": strayed})
    assert "names project" in read(made["summary.html"]).text
    assert "NOWHERE" in read(made["sample/HB-0008.html"]).text
    assert "../project/" not in made["sample/HB-0008.html"]


def test_a_limit_without_any_result_is_told(whole) -> None:
    values = whole["sample_values"].filter(~((pl.col("sample_id") == "HB-0008") & (pl.col("property") == "vma")))
    judged = whole["judgements"].with_columns(
        pl.when((pl.col("sample_id") == "HB-0008") & (pl.col("property") == "vma"))
        .then(pl.lit("no result has arrived"))
        .otherwise("reason")
        .alias("reason")
    )
    page = render({**whole, "sample_values": values, "judgements": judged})["sample/HB-0008.html"]
    missing = rows(page, "missing")
    assert ["Voids in the mineral aggregate", "at least 14.0", "no result has arrived"] in missing


def test_a_sample_page_opens_with_its_count_of_verdicts(whole, pages) -> None:
    for sample in ("HB-0000", "HB-0007", "HB-0008"):
        verdicts = whole["judgements"].filter(pl.col("sample_id") == sample)["verdict"].to_list()
        passed, failed = verdicts.count("pass"), verdicts.count("fail")
        count, side = (failed, "outside") if failed else (passed, "within")
        assert (
            f"{count} of {passed + failed} judged results {side} the limits."
            in read(pages[f"sample/{sample}.html"]).text
        )


def test_a_bare_number_gets_its_unit_and_a_text_keeps_its_own(whole) -> None:
    inputs = whole["inputs"].filter(pl.col("sample_id") == "HB-0008").head(3)
    inputs = inputs.with_columns(
        pl.Series("field", ["mass_dry", "water_temperature_c", "stop_reason"]),
        pl.Series("value_text", ["4712.3", "25.1 °C", "passes"]),
    )
    found = rows(render({**whole, "inputs": inputs})["sample/HB-0008.html"], "trace")
    assert {row[1] for row in found} == {"4712.3 g", "25.1 °C", "passes"}
