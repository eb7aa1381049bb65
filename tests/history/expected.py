"""Answers to the twenty questions worked out another way: in polars, from the tables alone, without any view."""

from collections.abc import Callable

import duckdb
import polars as pl

from pipeline.derive.revisions import with_revision
from warehouse.sql import fetch

c = pl.col

TABLES = (
    "sample",
    "mix_design",
    "mix_gradation",
    "weighing",
    "core",
    "compaction_run",
    "wheel_run",
    "load_test",
    "calibration",
    "property_value",
    "judgement",
    "export",
    "flag",
)


class Tables:
    """Current rows of the tables, and figures of samples beside what the register says."""

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        frames = {name: fetch(connection, f'select * from "{name}"') for name in TABLES}
        self.every = frames
        self.now = {
            name: frame.filter(c("valid_to_run").is_null()) if "valid_to_run" in frame.columns else frame
            for name, frame in frames.items()
        }
        dated = with_revision(self.now["sample"], self.now["mix_design"])
        design = self.now["mix_design"].select("mix_id", "revision", "binder_grade", "plant")
        self.samples = dated.join(design, on=["mix_id", "revision"], how="left")
        self.values = self.now["property_value"].filter(c("value").is_not_null())

    def figures(self, name: str, level: str = "sample") -> pl.DataFrame:
        """Figures of one property with the register's columns."""
        found = self.values.filter(property=name, level=level)
        return found.join(self.samples, on="sample_id", how="inner")

    def target(self, column: str) -> pl.DataFrame:
        """Targets of the designs by mix and revision."""
        return self.now["mix_design"].select("mix_id", "revision", target=c(column)).drop_nulls("target")


Rows = list[tuple[object, ...]]
EXPECTED: dict[str, Callable[[Tables], Rows]] = {}


def answers(function: Callable[[Tables], Rows]) -> Callable[[Tables], Rows]:
    EXPECTED[function.__name__] = function
    return function


def by(frame: pl.DataFrame, *names: str) -> Rows:
    return frame.select(names).sort(names, nulls_last=True).rows()


_MIX = ["mix_id", "revision"]


@answers
def voids_moved(t: Tables) -> Rows:
    made = t.figures("air_voids").filter(c("phase") == "production", c("binder_grade").str.starts_with("PG 64"))
    means = made.group_by("plant", c("taken_on").dt.year().alias("year"), *_MIX).agg(production=c("value").mean())
    moved = means.join(t.target("air_voids_pct"), on=_MIX).with_columns(moved=c("production") - c("target"))
    return by(moved.filter(c("moved").abs() > 0.5), "plant", "year", "mix_id", "moved")


@answers
def vma_collapse(t: Tables) -> Rows:
    made = t.figures("vma").filter(c("phase") == "production")
    means = made.group_by(_MIX).agg(c("value").mean(), n=pl.len()).join(t.target("vma_pct"), on=_MIX)
    return by(means.with_columns(d=c("value") - c("target")).filter(c("d") < 0), "mix_id", "revision", "d", "n")


@answers
def startup_against_verification(t: Tables) -> Rows:
    names = ("gmm", "gmb", "pb", "air_voids", "vma")
    every = pl.concat(t.figures(name) for name in names)
    means = every.group_by("mix_id", "revision", "property", "phase").agg(c("value").mean())
    wide = means.pivot("phase", index=["mix_id", "revision", "property"], values="value")
    both = wide.drop_nulls(["verification", "startup"]).with_columns(d=c("startup") - c("verification"))
    return by(both, "mix_id", "property", "d")


@answers
def binder_off_target(t: Tables) -> Rows:
    made = t.figures("pb").filter(c("phase") == "production").join(t.target("pb_pct"), on=_MIX)
    off = made.with_columns(d=c("value") - c("target")).filter(c("d").abs() > 0.3)
    return by(off, "sample_id", "d")


@answers
def gradation_drift(t: Tables) -> Rows:
    made = t.figures("passing").filter(c("phase") == "production")
    goal = t.now["mix_gradation"].select("mix_id", "revision", c("sieve_mm").alias("point"), "passing_pct")
    met = made.join(goal, on=["mix_id", "revision", "point"])
    means = met.group_by("mix_id", "revision", "point").agg(d=(c("value") - c("passing_pct")).mean(), n=pl.len())
    return by(means.filter(c("d").abs() > 1), "mix_id", "revision", "point", "n", "d")


@answers
def dust_high(t: Tables) -> Rows:
    return by(t.figures("dust_proportion").filter(c("value") > 1.2), "sample_id", "value")


@answers
def density_of_lots(t: Tables) -> Rows:
    cores = t.figures("relative_compaction", "specimen")
    lots = cores.group_by("mix_id", "lot").agg(
        n=pl.len(), mean=c("value").mean(), s=c("value").std(), least=c("value").min()
    )
    return by(lots.filter((c("mean") < 92) | (c("least") < 91)), "mix_id", "lot", "n", "mean", "s", "least")


@answers
def density_by_lift_thickness(t: Tables) -> Rows:
    key = ["sample_id", "specimen_no"]
    cores = t.figures("relative_compaction", "specimen").join(t.now["core"].select(*key, "thickness_mm"), on=key)
    voids = t.figures("core_air_voids", "specimen").select(*key, voids="value")
    classed = (
        cores.join(voids, on=key).drop_nulls("thickness_mm").with_columns(k=(c("thickness_mm") / c("nmas_mm")).floor())
    )
    return by(classed.group_by("k").agg(n=pl.len(), m=c("value").mean(), v=c("voids").mean()), "k", "n", "m", "v")


def _wheels(t: Tables, name: str, point: float | None = None) -> pl.DataFrame:
    found = t.figures(name, "specimen").with_columns(
        test=c("specimen_no").str.split(" ").list.first(), wheel=c("specimen_no").str.split(" ").list.last()
    )
    return found if point is None else found.filter(c("point") == point)


@answers
def rutted_or_stripped(t: Tables) -> Rows:
    deep = _wheels(t, "rut_depth", 20000).group_by("sample_id").agg(rut=c("value").max())
    early = _wheels(t, "sip_lines").group_by("sample_id").agg(sip=c("value").min())
    both = deep.join(early, on="sample_id", how="full", coalesce=True)
    return by(both.filter((c("rut") > 12.5) | (c("sip") < 15000)), "sample_id", "rut", "sip")


@answers
def wheels_apart(t: Tables) -> Rows:
    wide = _wheels(t, "rut_depth", 10000).pivot("wheel", index=["sample_id", "test"], values="value")
    apart = wide.with_columns(d=c("left") - c("right")).filter(c("d").abs() > 0.3)
    return by(apart, "sample_id", "left", "right", "d")


@answers
def rutting_by_binder(t: Tables) -> Rows:
    recycled = t.now["mix_design"].select("mix_id", "revision", "recycled_pct")
    wheels = _wheels(t, "rut_depth", 10000).join(recycled, on=_MIX)
    means = wheels.group_by("binder_grade", "recycled_pct").agg(n=pl.len(), m=c("value").mean(), top=c("value").max())
    return by(means, "binder_grade", "recycled_pct", "n", "m", "top")


@answers
def gmm_through_season(t: Tables) -> Rows:
    made = t.figures("gmm").filter(c("phase") == "production")
    means = made.group_by("mix_id", c("taken_on").dt.truncate("1mo").alias("month")).agg(
        n=pl.len(), m=c("value").mean()
    )
    moved = means.sort("mix_id", "month").with_columns(d=c("m") - c("m").shift().over("mix_id"))
    return by(moved, "mix_id", "month", "n", "m", "d")


@answers
def laboratories_repeat(t: Tables) -> Rows:
    every = pl.concat(t.figures(name) for name in ("gmb", "gmm"))
    squares = (c("n") - 1) * c("spread") ** 2
    freedom = (c("n") - 1).filter(c("spread").is_not_null()).sum()
    found = every.group_by("property", "laboratory_id").agg(
        samples=pl.len(), specimens=c("n").sum(), r=(squares.sum() / freedom).sqrt()
    )
    return by(found, "property", "laboratory_id", "samples", "specimens", "r")


@answers
def compactors_drift(t: Tables) -> Rows:
    made = t.figures("gmb_n_design", "specimen")
    off = made.with_columns(off=c("value") - c("value").mean().over("mix_id", "revision", "phase"))
    pressed = t.now["compaction_run"].select("sample_id", "specimen_no", "instrument_id", "stated_at")
    quarters = off.join(pressed, on=["sample_id", "specimen_no"]).drop_nulls("instrument_id")
    quarter = pl.coalesce(c("stated_at").dt.date(), "taken_on").dt.truncate("1q").alias("quarter")
    return by(
        quarters.group_by("instrument_id", quarter).agg(n=pl.len(), m=c("off").mean()),
        "instrument_id",
        "quarter",
        "n",
        "m",
    )


@answers
def out_of_calibration(t: Tables) -> Rows:
    good = t.now["calibration"].filter(c("outcome") == "accepted").select("instrument_id", "calibrated_on", "due_on")
    parts = []
    for name in ("weighing", "compaction_run", "wheel_run", "load_test"):
        method = c("method") if "method" in t.now[name].columns else pl.lit(None, pl.String).alias("method")
        parts.append(
            t.now[name].select("sample_id", "specimen_no", "instrument_id", "stated_at", method, record=pl.lit(name))
        )
    tested = (
        pl.concat(parts)
        .drop_nulls(["instrument_id", "stated_at"])
        .group_by("sample_id", "specimen_no", "record", "method", "instrument_id")
        .agg(day=c("stated_at").min().dt.date())
        .filter(c("instrument_id").is_in(t.now["calibration"]["instrument_id"].to_list()))
    )
    covered = tested.join(good, on="instrument_id").filter(c("day").is_between("calibrated_on", "due_on"))
    key = ["sample_id", "specimen_no", "record", "method", "instrument_id"]
    bare = tested.join(covered, on=key, how="anti", nulls_equal=True)
    return by(
        bare.group_by("instrument_id", "sample_id").agg(n=pl.len(), first=c("day").min()),
        "instrument_id",
        "sample_id",
        "n",
        "first",
    )


@answers
def turn_round(t: Tables) -> Rows:
    names = ("weighing", "compaction_run", "wheel_run", "load_test", "core")
    read = pl.concat(t.now[name].select("sample_id", "stated_at") for name in names)
    last = read.drop_nulls().group_by("sample_id").agg(last=c("stated_at").max().dt.date())
    days = t.now["sample"].join(last, on="sample_id").with_columns(d=(c("last") - c("taken_on")).dt.total_days())
    found = days.group_by("laboratory_id", "phase").agg(n=pl.len(), m=c("d").median(), top=c("d").max())
    return by(found, "laboratory_id", "phase", "n", "m", "top")


@answers
def missing_results(t: Tables) -> Rows:
    found = t.now["judgement"].filter(c("verdict") == "not_judged", c("value").is_null())
    return by(found, "sample_id", "property", "point", "reason")


@answers
def failing_share(t: Tables) -> Rows:
    judged = t.now["judgement"].filter(c("verdict") != "not_judged").join(t.samples, on="sample_id")
    found = judged.group_by("project_id", "property").agg(n=pl.len(), failed=(c("verdict") == "fail").sum())
    return by(found.filter(c("failed") > 0), "project_id", "property", "n", "failed")


@answers
def corrected_readings(t: Tables) -> Rows:
    key = ["sample_id", "specimen_no", "method", "role", "sieve_mm"]
    old = t.every["weighing"].filter(c("superseded_by").is_not_null()).select(*key, "mass_g")
    new = t.now["weighing"].select(*key, "export_hash", after="mass_g")
    names = t.now["export"].select("export_hash", "name")
    both = old.join(new, on=key, nulls_equal=True).filter(c("mass_g") != c("after")).join(names, on="export_hash")
    return by(both, "sample_id", "specimen_no", "role", "mass_g", "after", "name")


@answers
def doubtful_results(t: Tables) -> Rows:
    flagged = t.values.drop_nulls("flags").with_columns(flag=c("flags").str.split(" ")).explode("flag")
    found = flagged.join(t.now["sample"], on="sample_id").group_by("laboratory_id", "flag")
    return by(found.agg(n=pl.len(), samples=c("sample_id").n_unique()), "laboratory_id", "flag", "n", "samples")
