"""The public name for readers: connect to a warehouse in one line."""

from importlib.metadata import version as _version
from importlib.util import find_spec as _find_spec
from pathlib import Path as _Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from warehouse.read import connect as connect

__all__ = ["connect", "version"]

_ROOMS = ("schemas", "plugins", "warehouse", "pipeline")


def _check_rooms() -> None:
    """Say so plainly when another module hides one of our packages."""
    for room in _ROOMS:
        spec = _find_spec(room)
        found = _Path(spec.origin) if spec and spec.origin else None
        if found is None or not (found.parent / "py.typed").is_file():
            raise ImportError(
                f"mixledger needs its own '{room}' package, but Python found {found}. "
                "Rename that file or start Python from another folder."
            )


def version() -> str:
    """Return the installed version."""
    return _version("mixledger")


def __getattr__(name: str) -> Any:
    if name == "connect":
        _check_rooms()
        from warehouse.read import connect

        return connect
    raise AttributeError(f"module 'mixledger' has no attribute '{name}'")
