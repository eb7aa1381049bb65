"""The troubles of real life: read from their data file, looked up while exports are made, applied to finished files."""

import re
import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

_FILE = Path(__file__).parent / "troubles.toml"

Trouble = dict[str, Any]
Files = dict[str, bytes]


@cache
def listed() -> tuple[Trouble, ...]:
    """Return all troubles in the order of the data file."""
    return tuple(tomllib.loads(_FILE.read_text(encoding="utf-8"))["trouble"])


def find(kind: str, sample: str, piece: str | None = None) -> Trouble | None:
    """Return the trouble of a kind that strikes this sample (and piece), if there is one."""
    for trouble in listed():
        if (trouble["kind"], trouble.get("sample"), trouble.get("piece")) == (kind, sample, piece):
            return trouble
    return None


def _edit(text: str, pattern: str, replacement: str, where: str) -> str:
    edited, count = re.subn(pattern, lambda found: found.expand(replacement), text, count=1, flags=re.MULTILINE)
    if count != 1:
        raise LookupError(f"trouble in {where}: nothing matches {pattern}")
    return edited


def _line(trouble: Trouble) -> str:
    """Return a pattern for one line of a journal; groups: what is before the mass, the mass, what is after it."""
    fields = [re.escape(trouble[name]) for name in ("sample", "piece", "test", "weighed")]
    return rf"^([^;]*;[^;]*;{';'.join(fields)};[^;]*;)([^;]*)(;.*)$"


def _truncate(files: Files, trouble: Trouble) -> None:
    content = files[trouble["file"]]
    files[trouble["file"]] = content[: int(len(content) * trouble["keep"])]


def _copy(files: Files, trouble: Trouble) -> None:
    files[trouble["file"]] = files[trouble["of"]]


def _text(files: Files, trouble: Trouble) -> None:
    files[trouble["file"]] = trouble["content"].encode()


def _unreadable(files: Files, trouble: Trouble) -> None:
    text = files[trouble["file"]].decode("cp1252")
    edited = _edit(text, _line(trouble), r"\g<1>\g<2>x\g<3>", trouble["file"])
    files[trouble["file"]] = edited.encode("cp1252")


def _reissued_press(files: Files, trouble: Trouble) -> None:
    """Put a wrong charge into the first report; the re-issued one has the right one."""
    right = files[trouble["of"]].decode()
    charge = re.search(r"^charge g = (\d+)$", right, flags=re.MULTILINE)
    if charge is None:
        raise LookupError(f"trouble in {trouble['of']}: no charge")
    wrong = int(charge[1]) + trouble["error_g"]
    files[trouble["of"]] = _edit(right, r"^charge g = .*$", f"charge g = {wrong}", trouble["of"]).encode()
    reissued = _edit(right, r"^written = .*$", f"written = {trouble['written']}", trouble["of"])
    files[trouble["file"]] = reissued.encode()


def _reissued_journal(files: Files, trouble: Trouble) -> None:
    """Put a slip of the pen into the first journal; the re-issued one has the right mass."""
    right = files[trouble["of"]].decode("cp1252")
    found = re.search(_line(trouble), right, flags=re.MULTILINE)
    if found is None:
        raise LookupError(f"trouble in {trouble['of']}: no such entry")
    wrong = float(found[2].replace(",", ".")) + trouble["error_g"]
    mistaken = _edit(right, _line(trouble), rf"\g<1>{wrong:.1f}\g<3>".replace(".", ","), trouble["of"])
    files[trouble["of"]] = mistaken.encode("cp1252")
    reissued = _edit(right, r"^Written;[^\r\n]*", f"Written;{trouble['written']}", trouble["of"])
    files[trouble["file"]] = reissued.encode("cp1252")


#: Kinds applied to finished files; the other kinds are looked up while the exports are made.
_ON_FILES: dict[str, Callable[[Files, Trouble], None]] = {
    "truncated": _truncate,
    "copy": _copy,
    "text": _text,
    "unreadable_mass": _unreadable,
    "reissued_press": _reissued_press,
    "reissued_journal": _reissued_journal,
}


def apply(files: Files) -> None:
    """Apply to the finished files what the data file lists for them, in its order."""
    for trouble in listed():
        if trouble["kind"] in _ON_FILES:
            _ON_FILES[trouble["kind"]](files, trouble)
