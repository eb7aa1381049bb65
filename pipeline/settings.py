"""Settings of a workspace: mixledger.toml read, checked, and told where it is wrong."""

import difflib
import tomllib
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

FILE_NAME = "mixledger.toml"

TEMPLATE = """\
# Settings of this workspace. Every line may be left out; what stands here are the defaults.

[intake]
largest_export_mb = 64      # larger files are kept but not read
settle_seconds = 5          # `serve` takes a file once it has not changed for so long

[serve]
interval_seconds = 300      # a pass at least this often, besides one whenever files have settled

[results]
wheel_positions = [4, 5, 6, 7, 8]   # positions of the 11 that count in a rut depth; agencies differ
wheel_zeroed = false                # whether the first reading is taken off every depth
wheel_lines_from_pass = 1000        # first pass of the fit of creep and stripping line
wheel_depth_limit_mm = 12.5         # depth whose passes are told, and at which a run counts as ended
wheel_voids_tolerance_pct = 0.5     # allowed from 7 % voids of the specimens (from memory); agencies allow up to 1.0
locking_point = "3-2-2"             # definition of the locking point: 2-1, 2-2, 2-3, 3-2 or 3-2-2 (from memory)
densification_from_gyration = 8     # where the construction densification index starts (from memory)
densification_ordinate = "start"    # areas of the densification indices above: start (the first density) or zero
sieving_check_pct = 0.2             # allowed loss in sieving, AASHTO T 30 (from memory)

[plugins]
trusted = []                # installed packages whose importers and renderers may run
"""


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


#: Choices among definitions, and their words.
_WORDS = {
    "locking_point": ("2-1", "2-2", "2-3", "3-2", "3-2-2"),
    "densification_ordinate": ("start", "zero"),
}


@dataclass(frozen=True)
class Results:
    """Named choices of the test methods; they are stored with the results they shaped."""

    wheel_positions: tuple[int, ...] = (4, 5, 6, 7, 8)
    wheel_zeroed: bool = False
    wheel_lines_from_pass: float = 1000
    wheel_depth_limit_mm: float = 12.5
    wheel_voids_tolerance_pct: float = 0.5
    locking_point: str = "3-2-2"
    densification_from_gyration: float = 8
    densification_ordinate: str = "start"
    sieving_check_pct: float = 0.2

    def __post_init__(self) -> None:
        """Check what a single value cannot show.

        Raises
        ------
        SettingsError
            When a position does not exist on the track, or none is named; when a definition is not a known one.
        """
        for name, known in _WORDS.items():
            if getattr(self, name) not in known:
                given = getattr(self, name)
                raise SettingsError(f"{FILE_NAME} [results] {name}: expected {' or '.join(known)}, found {given!r}.")
        if not self.wheel_positions or not set(self.wheel_positions) <= set(range(1, 12)):
            listed = list(self.wheel_positions)
            raise SettingsError(f"{FILE_NAME} [results] wheel_positions: expected some of 1 to 11, found {listed}.")


@dataclass(frozen=True)
class PluginTrust:
    """Which installed plugins may run."""

    trusted: tuple[str, ...] = ()


@dataclass(frozen=True)
class Settings:
    """All settings of one workspace."""

    intake: Intake = field(default_factory=Intake)
    serve: Serve = field(default_factory=Serve)
    results: Results = field(default_factory=Results)
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
        right = isinstance(given, int | float) and given > 0
    if not right:
        raise SettingsError(f"{where}: expected a value like {default!r}, found {given!r}.")
    return given


def _section(kind: type[Any], given: Any, where: str) -> Any:
    if not isinstance(given, dict):
        raise SettingsError(f"{where}: expected a table of settings, found {given!r}.")
    default = kind()
    allowed = [each.name for each in fields(default)]
    values = {}
    for key, value in given.items():
        _known(key, allowed, where)
        values[key] = _value(value, getattr(default, key), f"{where} {key}")
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
