"""Measured and registered figures that formulas take in."""

from pipeline.formulas.model import Grain, Quantity
from schemas.vocabulary import SIEVED_ROLES, LengthRole, MassRole, Method


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


def numbered(stem: str, symbol: str, title: str, unit: str | None) -> tuple[Quantity, Quantity]:
    """Return the first two of a numbered series of figures given by hand."""
    first, second = (Quantity(f"{stem}{each}", f"{symbol}{each}", title, unit, Grain.SAMPLE) for each in (1, 2))
    return first, second


#: A mass for every role of the vocabulary; those told apart by sieve stand below or with their method.
MASSES = tuple(_mass(role) for role in MassRole if role not in SIEVED_ROLES)

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

_SPECIMEN = Grain.SPECIMEN
#: Circumstances of weighings, what other density methods found on a specimen of T 166, and limits from the settings.
DENSITY = (
    Quantity("specimen_temperature", "T", "temperature of the specimen", "°C", _SPECIMEN),
    Quantity("immersion_time", "t", "time in water", "min", _SPECIMEN),
    Quantity("oven_temperature", "T", "temperature of the oven", "°C", _SPECIMEN),
    Quantity("vacuum_time", "t", "time under vacuum", "min", _SPECIMEN),
    Quantity("shaker_rate", "rate", "rate of the shaker", "1/min", _SPECIMEN),
    Quantity("container_volume", "V", "volume of the container", "cm³", _SPECIMEN),
    Quantity("balance_step", "d", "readability of the balance", "g", _SPECIMEN),
    Quantity("portions_mass", "ΣA", "mass of all portions of the test", "g", _SPECIMEN),
    *(
        Quantity(
            f"mass_dry_{method.value}",
            f"mass 'dry' ({name})",
            f"mass of the dry specimen in air, {name}",
            "g",
            _SPECIMEN,
            method,
            f"mass of the dry specimen in air missing (role 'dry', method {method.value})",
        )
        for method, name in ((Method.T331, "T 331"), (Method.T269, "T 269"))
    ),
    Quantity("water_temperature_t331", "T", "temperature of the water, T 331", "°C", _SPECIMEN, Method.T331),
    Quantity("bag_gravity", "F", "apparent specific gravity of the bag", None, _SPECIMEN, Method.T331),
    Quantity("bag_gravity_change", "F1", "change of F per A / (B - A)", None, _SPECIMEN, Method.T331),
    Quantity("bag_loss_limit", "loss", "loss of mass in the bag allowed by the settings", "%", _SPECIMEN, Method.T331),
    Quantity("bag_gain_limit", "gain", "gain of mass in the bag allowed by the settings", "%", _SPECIMEN, Method.T331),
    Quantity("dimensions_water", "ρ", "density of water by the settings", "kg/m³", _SPECIMEN, Method.T269),
    Quantity("open_voids_from", "Va open", "voids from which a mixture counts as open", "%", _SPECIMEN, Method.T269),
    Quantity("thickness", "t", "thickness stated with the core", "mm", _SPECIMEN, Method.T166),
    Quantity(
        "thickness_range_limit", "range", "range of thickness readings passed over", "mm", _SPECIMEN, Method.D3549
    ),
    Quantity("gauge_density", "ρ gauge", "mean density the gauge shows", "kg/m³", _SPECIMEN, Method.T355),
    Quantity("gauges", "gauges", "gauges read at the place", None, _SPECIMEN, Method.T355),
    Quantity("correlation", "c", "core correlation stated with the readings", "kg/m³", _SPECIMEN, Method.T355),
    Quantity("water_density", "ρ water", "density of water by the settings", "kg/m³", Grain.SAMPLE),
    Quantity("water_density_customary", "ρ water", "density of water at 25 °C", "lb/ft³", Grain.SAMPLE),
    Quantity("design_maximum_size", "D max", "maximum size, the sieve above the nominal one", "mm", Grain.SAMPLE),
    Quantity("gmm_least_mass", "A min", "least mass of the test by nominal maximum size", "g", Grain.SAMPLE),
    Quantity("vacuum_low", "p low", "least residual pressure by the settings", "kPa", Grain.SAMPLE),
    Quantity("vacuum_high", "p high", "largest residual pressure by the settings", "kPa", Grain.SAMPLE),
    Quantity("flask_water", "flask water", "correction of Gmm by the settings", None, Grain.SAMPLE, kind="text"),
)

WEIGHING = (
    Quantity("water_temperature", "T", "temperature of the water", "°C", Grain.SPECIMEN),
    Quantity("residual_pressure", "p", "absolute pressure under vacuum", "kPa", Grain.SPECIMEN),
    Quantity(
        "mass_retained_total",
        "ΣR",
        "sum of the masses retained, pan included",
        "g",
        Grain.SPECIMEN,
        missing="masses retained missing",
    ),
    Quantity(
        "mass_retained_cumulative",
        "ΣR",
        "mass retained on this and all larger sieves",
        "g",
        Grain.SPECIMEN_SIEVE,
        missing="mass retained missing",
    ),
    Quantity("mass_retained", "R", "mass retained on the sieve", "g", Grain.SPECIMEN_SIEVE),
    Quantity("sieve_opening", "d", "opening of the sieve", "mm", Grain.SPECIMEN_SIEVE),
    Quantity("sieve_frame", "D", "diameter of the sieves, by the settings", "mm", Grain.SPECIMEN_SIEVE),
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
    _register("gsa", "Gsa", "combined apparent specific gravity of the aggregate", None),
    _register("pb_target", "target Pb", "target binder content of the mix design", "%"),
    _register("pb_batched", "batched Pb", "binder content the mixture was batched with", "%"),
    _register("ignition_correction", "Cf", "correction factor of the ignition furnace for the mix", "%"),
    _register("reference_density", "ρ ref", "density the pavement is compared with besides Gmm", "kg/m³"),
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

THICKNESS_READINGS = tuple(
    Quantity(f"t{number}", f"t{number}", "reading of the thickness", "mm", Grain.SPECIMEN) for number in (1, 2)
)

#: Bulk gravity of a blend: any number of shares (p) and gravities (g).
BLEND = (
    *numbered("p", "P", "share of the aggregate by mass", "%"),
    *numbered("g", "G", "specific gravity of that aggregate", None),
)
