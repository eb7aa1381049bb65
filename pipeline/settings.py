"""Settings of a workspace: mixledger.toml read, checked, and told where it is wrong."""

import difflib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from pathlib import Path
from typing import Any

FILE_NAME = "mixledger.toml"

#: What a new workspace gets: every setting with its default and what it means.
TEMPLATE = Path(__file__).with_name("settings.toml")


#: Longest time between calibrations by kind of instrument, months.
_MONTHS = {
    "balance": 12,
    "balance with bath": 12,
    "gyratory compactor": 12,
    "wheel tracker": 12,
    "load frame": 12,
    "ignition furnace": 12,
}
#: Primary control sieve in mm and its control point in % passing, by nominal size in mm.
_CONTROL_SIEVE = {"37.5": 9.5, "25": 4.75, "19": 4.75, "12.5": 2.36, "9.5": 2.36}
_CONTROL_POINT = {"37.5": 47, "25": 40, "19": 47, "12.5": 39, "9.5": 47}
#: Settings of which the first lies below the second.
_ORDERED = (
    ("saturation_low_pct", "saturation_high_pct"),
    ("vacuum_low_kpa", "vacuum_high_kpa"),
    ("flow_tangent_from_pct", "flow_tangent_to_pct"),
    ("densification_construction_end_pct", "densification_traffic_end_pct"),
)


class SettingsError(ValueError):
    """A setting that is wrong; the message names the file, the key, what was expected and what to do."""


@dataclass(frozen=True)
class Intake:
    """What is taken from the inbox, and when."""

    largest_export_mb: int = 64
    settle_seconds: float = 5


@dataclass(frozen=True)
class Serve:
    """How `serve` keeps the workspace running."""

    interval_seconds: float = 300


@dataclass(frozen=True)
class Results:
    """Named choices of the test methods; they are stored with the results they shaped."""

    wheel_positions: tuple[int, ...] = (4, 5, 6, 7, 8)
    wheel_zeroed: bool = False
    wheel_lines_from_pass: float = 1000
    wheel_depth_limit_mm: float = 12.5
    wheel_voids_tolerance_pct: float = 0.5
    locking_point: str = field(default="3-2-2", metadata={"words": ("2-1", "2-2", "2-3", "3-2", "3-2-2")})
    densification_from_gyration: float = 8
    densification_construction_end_pct: float = 92
    densification_traffic_end_pct: float = 98
    densification_ordinate: str = field(default="start", metadata={"words": ("start", "zero")})
    binder_content_from: str = field(default="ignition", metadata={"words": ("ignition", "extraction", "batched")})
    calibration_months: Mapping[str, float] = field(default_factory=lambda: dict(_MONTHS))
    sieving_check_pct: float = 0.2
    water_kg_m3: float = 997.1
    dimensions_water_kg_m3: float = 997.07
    flask_water: str = field(default="by_temperature", metadata={"words": ("by_temperature", "at_25")})
    vacuum_low_kpa: float = 3.4
    vacuum_high_kpa: float = 4.0
    gmm_mass_table: str = field(default="current", metadata={"words": ("current", "older")})
    open_voids_from_pct: float = 10
    bag_gravity_small: tuple[float, ...] = ()
    bag_gravity_large: tuple[float, ...] = ()
    bag_loss_pct: float = 0.08
    bag_gain_pct: float = 0.04
    thickness_range_mm: float = 6
    rounding: str = field(default="half_even", metadata={"words": ("half_even", "half_up")})
    saturation_low_pct: float = 70
    saturation_high_pct: float = 80
    shear_factor: float = 0.356
    peak_drop_pct: float = 5
    work_end_load_n: float = 100
    flow_tangent_from_pct: float = 40
    flow_tangent_to_pct: float = 80
    inflection_fit_to_pct: float = 20
    inflection_fit_degree: int = 5
    nominal_size: str = field(
        default="ten_percent", metadata={"words": ("ten_percent", "one_percent", "below_maximum")}
    )
    control_sieve_mm: Mapping[str, float] = field(default_factory=lambda: dict(_CONTROL_SIEVE))
    control_point_pct: Mapping[str, float] = field(default_factory=lambda: dict(_CONTROL_POINT))
    minimum_portion: str = field(default="wsdot", metadata={"words": ("wsdot", "t27")})
    sieve_frame_mm: float = 305
    uncompacted_voids_grading: str = field(default="A", metadata={"words": ("A", "B", "C")})
    flat_elongated_ratio: str = field(default="5:1", metadata={"words": ("2:1", "3:1", "5:1")})
    small_fraction_pct: float = 10
    surface_area_factors: tuple[float, ...] = (0.409, 0.409, 0.819, 1.639, 2.867, 6.144, 12.289, 32.771)
    limits: Mapping[str, float] = field(default_factory=dict, metadata={"signed": True})

    def __post_init__(self) -> None:
        """Check what a single value cannot show.

        Raises
        ------
        SettingsError
            When a position does not exist on the track or none is named, when a lower bound does not lie below its
            upper one, or when a polynomial has no inflection.
        """
        for each in fields(self):
            known = each.metadata.get("words")
            if known:
                _word(getattr(self, each.name), known, f"{FILE_NAME} [results] {each.name}")
        for name in ("control_sieve_mm", "control_point_pct"):
            _sizes(getattr(self, name), f"{FILE_NAME} [results] {name}")
        if not self.wheel_positions or not set(self.wheel_positions) <= set(range(1, 12)):
            given = list(self.wheel_positions)
            raise SettingsError(f"{FILE_NAME} [results] wheel_positions: expected some of 1 to 11, found {given}.")
        for name in ("bag_gravity_small", "bag_gravity_large"):
            _bag(getattr(self, name), f"{FILE_NAME} [results] {name}")
        for low, high in _ORDERED:
            if getattr(self, low) >= getattr(self, high):
                raise SettingsError(f"{FILE_NAME} [results] {low}: expected less than {high}; correct one of them.")
        if self.inflection_fit_degree not in range(3, 10):
            found = self.inflection_fit_degree
            raise SettingsError(f"{FILE_NAME} [results] inflection_fit_degree: expected 3 to 9, found {found}.")
        if self.sieve_frame_mm not in (203, 305):
            frame = self.sieve_frame_mm
            raise SettingsError(f"{FILE_NAME} [results] sieve_frame_mm: expected 203 or 305, found {frame}.")
        _factors(self.surface_area_factors)


@dataclass(frozen=True)
class Uncertainty:
    """How standard uncertainties are worked out; values of single contributions replace those declared.

    Attributes
    ----------
    weighing_correlation
        Correlation of two weighings on one balance, 0 to 1.
    specimens
        `common`: what the specimens of a mean owe to balance and method is the same for all, so it does not
        average out; `independent`: it does.
    contributions
        Name of a declared contribution -> its standard uncertainty, in the unit declared.
    """

    weighing_correlation: float = 0.0
    specimens: str = field(default="common", metadata={"words": ("common", "independent")})
    contributions: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Check that the correlation is one.

        Raises
        ------
        SettingsError
            When it is not within 0 to 1.
        """
        if not 0 <= self.weighing_correlation <= 1:
            raise SettingsError(
                f"{FILE_NAME} [uncertainty] weighing_correlation: expected 0 to 1, found {self.weighing_correlation}."
            )


@dataclass(frozen=True)
class Pages:
    """How figures, dates and texts are shown; what is stored does not depend on it.

    Attributes
    ----------
    browser
        Program that prints reports to PDF; empty: it is looked for.
    replaced
        Shipped page -> name of a trusted package's renderer that makes it instead.
    """

    units: str = field(default="si", metadata={"words": ("si", "us")})
    decimal_mark: str = field(default="point", metadata={"words": ("point", "comma")})
    date_format: str = field(default="iso", metadata={"words": ("iso", "dmy", "mdy")})
    language: str = "en"
    browser: str = ""
    replaced: Mapping[str, str] = field(default_factory=dict, metadata={"names": True})


@dataclass(frozen=True)
class PluginTrust:
    """Which plugins in code may run, for how long, and which importer comes first.

    Attributes
    ----------
    trusted
        Installed distributions (`NAME` or `NAME==VERSION`) and local code (`importers/NAME@sha256:HASH`).
    prefer
        Names of importers: of several that claim one file the one named first reads it.
    time_limit_seconds
        Longest a plugin in code may take over one file or one set of pages.
    """

    trusted: tuple[str, ...] = ()
    prefer: tuple[str, ...] = ()
    time_limit_seconds: float = 30

    def __post_init__(self) -> None:
        """Check that the lists hold names.

        Raises
        ------
        SettingsError
            When an entry is not a text.
        """
        for name in ("trusted", "prefer"):
            wrong = [each for each in getattr(self, name) if not isinstance(each, str) or not each.strip()]
            if wrong:
                raise SettingsError(f"{FILE_NAME} [plugins] {name}: expected names in quotes, found {wrong[0]!r}.")


@dataclass(frozen=True)
class Settings:
    """All settings of one workspace."""

    intake: Intake = field(default_factory=Intake)
    serve: Serve = field(default_factory=Serve)
    results: Results = field(default_factory=Results)
    uncertainty: Uncertainty = field(default_factory=Uncertainty)
    pages: Pages = field(default_factory=Pages)
    plugins: PluginTrust = field(default_factory=PluginTrust)


def _known(key: str, allowed: list[str], where: str) -> None:
    if key in allowed:
        return
    near = difflib.get_close_matches(key, allowed, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else f" Known here: {', '.join(allowed)}."
    raise SettingsError(f"{where}: '{key}' is not a setting.{hint}")


def _value(given: Any, default: Any, where: str) -> Any:
    if isinstance(default, tuple):
        if not isinstance(given, list):
            raise SettingsError(f"{where}: expected a list such as {list(default)}, found {given!r}.")
        return tuple(given)
    if isinstance(default, str):
        right = isinstance(given, str)
    elif isinstance(default, bool) or isinstance(given, bool):
        right = isinstance(default, bool) and isinstance(given, bool)
    else:
        # A default of zero says that zero is a value like others.
        right = isinstance(given, int | float) and (given > 0 or given == default)
    if not right:
        raise SettingsError(f"{where}: expected a value like {default!r}, found {given!r}.")
    return given


def _numbers(given: Any, where: str, *, signed: bool) -> dict[str, float]:
    if not isinstance(given, dict):
        raise SettingsError(f"{where}: expected names with numbers, such as {{ name = 0.1 }}, found {given!r}.")
    for name, value in given.items():
        number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if not number or (value < 0 and not signed):
            expected = "a number" if signed else "a number from 0 up"
            raise SettingsError(f"{where} {name}: expected {expected}, found {value!r}.")
    return {name: float(value) for name, value in given.items()}


def _sizes(given: Mapping[str, float], where: str) -> None:
    for name in given:
        try:
            float(name)
        except ValueError as fault:
            told = f'expected sizes in mm in quotes, such as {{ "12.5" = 39 }}, found {name!r}.'
            raise SettingsError(f"{where}: {told}") from fault


def _names(given: Any, where: str) -> dict[str, str]:
    if not isinstance(given, dict) or not all(isinstance(name, str) and name.strip() for name in given.values()):
        raise SettingsError(f'{where}: expected names with names, such as {{ quality = "ours" }}, found {given!r}.')
    return dict(given)


def _word(given: Any, words: tuple[str, ...], where: str) -> str:
    if given not in words:
        raise SettingsError(f"{where}: expected one of {', '.join(words)}, found {given!r}.")
    return str(given)


def _factors(given: tuple[Any, ...]) -> None:
    if len(given) != 8 or not all(isinstance(each, int | float) and each > 0 for each in given):
        told = "expected 8 numbers above 0: the constant, then 4.75 to 0.075 mm"
        raise SettingsError(f"{FILE_NAME} [results] surface_area_factors: {told}; found {list(given)}.")


def _bag(given: tuple[Any, ...], where: str) -> None:
    numbers = all(isinstance(each, int | float) and not isinstance(each, bool) for each in given)
    if not numbers or len(given) > 2 or (given and not 0 < given[0] < 3):
        raise SettingsError(f"{where}: expected [], [F] or [F, change], such as [0.9], found {list(given)}.")


def _given(value: Any, setting: "Field[Any]", default: Any, where: str) -> Any:
    if "words" in setting.metadata:
        return _word(value, setting.metadata["words"], where)
    if setting.metadata.get("names"):
        return _names(value, where)
    if isinstance(default, Mapping):
        return _numbers(value, where, signed=setting.metadata.get("signed", False))
    return _value(value, default, where)


def _section(kind: type[Any], given: Any, where: str) -> Any:
    if not isinstance(given, dict):
        raise SettingsError(f"{where}: expected a table of settings, found {given!r}.")
    default = kind()
    stated = {each.name: each for each in fields(default)}
    values: dict[str, Any] = {}
    for key, value in given.items():
        _known(key, list(stated), where)
        values[key] = _given(value, stated[key], getattr(default, key), f"{where} {key}")
    return kind(**values)


def load(folder: Path) -> Settings:
    """Read the settings of a workspace.

    Raises
    ------
    SettingsError
        When the file is not TOML, or holds an unknown key or a value of the wrong kind.
    """
    path = folder / FILE_NAME
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise SettingsError(
            f"{path}: not readable as TOML: {fault}. Mend that line, or start from `mixledger init`."
        ) from fault
    kinds = {each.name: each.default_factory for each in fields(Settings)}
    sections = {}
    for name, section in given.items():
        _known(name, list(kinds), str(path))
        sections[name] = _section(kinds[name], section, f"{path} [{name}]")  # type: ignore[arg-type]
    return Settings(**sections)


def at(folder: Path) -> Settings:
    """Return the settings that hold in a folder: its own where it is a workspace, else the defaults."""
    return load(folder) if (folder / FILE_NAME).is_file() else Settings()
