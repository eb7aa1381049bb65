"""Measured and registered figures that formulas take in."""

from pipeline.formulas.model import Grain, Quantity
from schemas.vocabulary import LengthRole, MassRole, Method


def _mass(role: MassRole) -> Quantity:
    title = f"mass of the {role.definition}".replace("the empty", "the").replace("the what", "what")
    return Quantity(
        name=f"mass_{role.value}",
        symbol=f"mass '{role.value}'",
        title=title,
        unit="g",
        grain=Grain.SPECIMEN,
        missing=f"{title} missing (role '{role.value}')",
    )


def _register(name: str, symbol: str, title: str, unit: str | None) -> Quantity:
    return Quantity(name, symbol, title, unit, Grain.SAMPLE, missing=f"{symbol} missing")


#: A mass for every role of the vocabulary; masses retained come sieve by sieve and are cumulated below.
MASSES = tuple(_mass(role) for role in MassRole if role is not MassRole.RETAINED)

#: The mean of the readings of a length for every role of the vocabulary, their number and their range.
LENGTHS = tuple(
    quantity
    for role in LengthRole
    for quantity in (
        Quantity(
            f"length_{role.value}",
            role.value,
            f"mean {role.definition}",
            "mm",
            Grain.SPECIMEN,
            missing=f"mean {role.definition} missing (role '{role.value}')",
        ),
        Quantity(f"length_{role.value}_n", "n", f"number of readings: {role.definition}", None, Grain.SPECIMEN),
        Quantity(f"length_{role.value}_range", "range", f"range of readings: {role.definition}", "mm", Grain.SPECIMEN),
    )
)

WEIGHING = (
    Quantity("water_temperature", "T", "temperature of the water", "°C", Grain.SPECIMEN),
    Quantity("residual_pressure", "p", "absolute pressure under vacuum", "kPa", Grain.SPECIMEN),
    Quantity("vacuum_time", "t", "time under vacuum", "min", Grain.SPECIMEN),
    Quantity(
        "mass_retained_total",
        "ΣR",
        "sum of the masses retained, pan included",
        "g",
        Grain.SPECIMEN,
        Method.T30,
        "masses retained missing",
    ),
    Quantity(
        "mass_retained_cumulative",
        "ΣR",
        "mass retained on this and all larger sieves",
        "g",
        Grain.SPECIMEN_SIEVE,
        Method.T30,
        "mass retained missing",
    ),
    Quantity(
        "sieving_check", "allowed loss", "loss in sieving allowed by the settings", "%", Grain.SPECIMEN, Method.T30
    ),
)

PRESS = (
    Quantity("gyrations", "N", "gyrations applied", None, Grain.SPECIMEN, Method.T312),
    Quantity("stop_rule", "stop rule", "what ended the compaction", None, Grain.SPECIMEN, Method.T312, kind="text"),
    Quantity("pressure", "p", "mean ram pressure", "kPa", Grain.SPECIMEN, Method.T312),
    Quantity("angle", "angle", "internal angle of gyration", "°", Grain.SPECIMEN, Method.T312),
    Quantity("speed", "rate", "gyrations per minute", "1/min", Grain.SPECIMEN, Method.T312),
    Quantity(
        "height_rise",
        "Δh",
        "largest rise of the height from one gyration to the next",
        "mm",
        Grain.SPECIMEN,
        Method.T312,
    ),
    Quantity(
        "height_final",
        "h final",
        "height after the last gyration",
        "mm",
        Grain.SPECIMEN,
        Method.T312,
        "height after the last gyration missing",
    ),
    *(
        Quantity(
            f"height_n_{level}",
            f"h N {level}",
            f"height at N {level}",
            "mm",
            Grain.SPECIMEN,
            Method.T312,
            f"height at N {level} missing",
        )
        for level in ("initial", "design", "maximum")
    ),
    Quantity("height", "h", "height at the gyration", "mm", Grain.SPECIMEN_GYRATION, Method.T312, "height missing"),
    Quantity("mass_mixture", "W", "mass of the mixture in the mould", "g", Grain.SPECIMEN, Method.T312),
    Quantity("mould_diameter", "d", "inside diameter of the mould", "mm", Grain.SPECIMEN, Method.T312),
)

REGISTER = (
    _register("gb", "Gb", "specific gravity of the binder", None),
    _register("gsb", "Gsb", "combined bulk specific gravity of the aggregate", None),
    _register("pb_target", "target Pb", "target binder content of the mix design", "%"),
    _register("pb_batched", "batched Pb", "binder content the mixture was batched with", "%"),
    _register("ignition_correction", "Cf", "correction factor of the ignition furnace for the mix", "%"),
    _register("n_initial", "N initial", "gyrations at the initial level", None),
    _register("n_design", "N design", "gyrations at the design level", None),
    _register("n_maximum", "N maximum", "gyrations at the maximum level", None),
    Quantity(
        "passing_0_075",
        "P0.075",
        "passing the 0.075 mm sieve",
        "%",
        Grain.SAMPLE,
        missing="passing 0.075 mm missing: no T 30 result of this sample",
        picks=("passing", 0.075),
    ),
)

_WHEEL = (Grain.SPECIMEN, Method.T324)
WHEEL = (
    Quantity("bath_set", "T set", "set point of the bath", "°C", Grain.SPECIMEN, Method.T324),
    Quantity("bath_mean", "T bath", "mean bath temperature of the run", "°C", Grain.SPECIMEN, Method.T324),
    Quantity("wheel_load", "F", "load on the wheel", "N", Grain.SPECIMEN, Method.T324),
    Quantity(
        "positions_missing",
        "positions",
        "readings at counted positions that are missing",
        None,
        Grain.SPECIMEN,
        Method.T324,
    ),
    Quantity("wheel_rate", "rate", "passes per minute", "1/min", *_WHEEL),
    Quantity("specimen_voids", "Va", "air voids of the specimens", "%", *_WHEEL),
    Quantity("voids_tolerance", "tolerance", "tolerance of the air voids by the settings", "%", *_WHEEL),
    Quantity("depth_limit", "R limit", "depth whose passes are told", "mm", *_WHEEL),
    Quantity("run_stop_reason", "ended by", "what ended the run", None, *_WHEEL, kind="text"),
    Quantity("passes_recorded", "N last", "last pass of the run", None, *_WHEEL),
    Quantity("end_pass", "N end", "pass at which the run ended", None, *_WHEEL),
    Quantity("end_depth", "R end", "depth at the last reading", "mm", *_WHEEL, "no readings of the run"),
    Quantity("first_depth", "R first", "first depth recorded, not zeroed", "mm", *_WHEEL),
    Quantity("first_pass", "N first", "first pass recorded", None, *_WHEEL),
    Quantity("depth_zeroed", "zeroed", "1 where the first reading is taken off, by the settings", None, *_WHEEL),
    Quantity("bath_lowest", "T min", "lowest bath temperature of the run", "°C", *_WHEEL),
    Quantity("bath_highest", "T max", "highest bath temperature of the run", "°C", *_WHEEL),
    Quantity("wheel_soak", "soak", "time in the bath before the run", "min", *_WHEEL),
    Quantity("wheel_height", "h", "height of the specimens", "mm", *_WHEEL),
    Quantity("pass_gap_ratio", "gap", "largest step between readings over the usual one", None, *_WHEEL),
    Quantity("pass_counter_falls", "falls", "readings whose pass lies below that of the line before", None, *_WHEEL),
    Quantity("rut_fall", "ΔR", "largest fall of the depth below the deepest before", "mm", *_WHEEL),
    Quantity("pass_asked", "N", "pass at which the depth is wanted", None, Grain.SPECIMEN_PASS, Method.T324),
    Quantity(
        "pass_before",
        "N1",
        "last recorded pass up to it",
        None,
        Grain.SPECIMEN_PASS,
        Method.T324,
        "no reading up to that pass",
    ),
    Quantity(
        "pass_after",
        "N2",
        "first recorded pass from it on",
        None,
        Grain.SPECIMEN_PASS,
        Method.T324,
        "no reading from that pass on",
    ),
    Quantity("depth_before", "R1", "depth at N1", "mm", Grain.SPECIMEN_PASS, Method.T324, "no reading up to that pass"),
    Quantity(
        "depth_after", "R2", "depth at N2", "mm", Grain.SPECIMEN_PASS, Method.T324, "no reading from that pass on"
    ),
    Quantity(
        "reading_short", "short", "passes by which the last reading falls short", None, Grain.SPECIMEN_PASS, Method.T324
    ),
)

#: Bulk gravity of a blend: any number of shares (p) and gravities (g).
BLEND = tuple(
    Quantity(f"{stem}{number}", f"{stem.upper()}{number}", title, unit, Grain.SAMPLE)
    for number in (1, 2)
    for stem, title, unit in (
        ("p", "share of the aggregate by mass", "%"),
        ("g", "bulk specific gravity of that aggregate", None),
    )
)
