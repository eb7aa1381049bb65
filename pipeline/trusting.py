"""What `mixledger trust` shows and writes: the one line of mixledger.toml that says which code may run."""

import os
import tomllib
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from pipeline.settings import FILE_NAME
from pipeline.workspace import Workspace
from plugins import sources


class TrustError(ValueError):
    """Nothing of that name can be trusted, or the settings cannot be changed by the program."""


@dataclass(frozen=True)
class Subject:
    """What is to be trusted.

    Attributes
    ----------
    name
        Distribution, or folder and name of local code: how the settings name it, without version or hash.
    entry
        The whole entry under `[plugins] trusted`.
    shown
        What a person should look at before consenting: one line each.
    """

    name: str
    entry: str
    shown: tuple[str, ...]

    def names(self, entry: str) -> bool:
        """Return whether an entry of the settings is about this subject."""
        if sources.is_local(entry) or sources.is_local(self.name):
            return entry.partition("@")[0].strip() == self.name
        return sources.normal(entry.partition("==")[0].strip()) == sources.normal(self.name)


def subject(workspace: Workspace, asked: str, pin: bool) -> Subject:
    """Find what a name or a path means; nothing of it is run.

    Raises
    ------
    TrustError
        When it is neither an installed distribution with plugins nor code in the workspace's folder of importers.
    """
    looks_like_path = "/" in asked or os.sep in asked or asked.endswith(".py")
    return _local(workspace, asked) if looks_like_path else _installed(asked, pin)


def named(workspace: Workspace, asked: str) -> Subject:
    """Return the subject a withdrawal names, whether or not it is still there."""
    try:
        return subject(workspace, asked, pin=False)
    except TrustError:
        return Subject(asked.removesuffix("/importer.py").rstrip("/"), "", ())


def _installed(asked: str, pin: bool) -> Subject:
    points = [one for one in sources.installed() if sources.normal(one.distribution) == sources.normal(asked)]
    if not points:
        known = sorted({one.distribution for one in sources.installed()})
        has = f"installed with plugins: {', '.join(known)}" if known else "no installed package offers plugins"
        raise TrustError(
            f"'{asked}' is no installed package with plugins ({has}); code of the workspace is named by path"
        )
    name, version = points[0].distribution, points[0].version
    shown = [f"{name} {version}"]
    shown += [f"offers {one.point.group}: {one.point.name} = {one.point.value}" for one in points]
    try:
        files = distribution(name).files or []
    except PackageNotFoundError:
        files = []
    shown += [f"file {file.locate()}" for file in files if file.suffix in {".py", ".so", ".pyd", ".pth"}]
    return Subject(name, f"{name}=={version}" if pin else name, tuple(shown))


def _local(workspace: Workspace, asked: str) -> Subject:
    wanted = _folder(workspace, asked)
    for one in sources.local_code(workspace.importers):
        if one.path.parent.resolve() == wanted:
            lines = one.path.read_bytes().count(b"\n")
            shown = (f"{one.path} ({lines} lines)", f"SHA-256 {one.sha256}")
            return Subject(one.place, one.trusted_as, shown)
    raise TrustError(
        f"'{asked}' is no code of this workspace: expected a folder below {workspace.importers} that holds importer.py"
    )


def _folder(workspace: Workspace, asked: str) -> Path:
    path = Path(asked)
    path = path.parent if path.name == "importer.py" else path
    tried = (path, workspace.root / path)
    return next((each for each in tried if each.is_dir()), workspace.root / path).resolve()


def write(workspace: Workspace, about: Subject, keep: bool) -> bool:
    """Put the subject's entry into the settings, or take every entry about it out; return whether anything changed.

    Only the line of `[plugins] trusted` is touched; the file is replaced as a whole.

    Raises
    ------
    TrustError
        When the file is written in a way the program cannot change safely; nothing is changed then.
    """
    path = workspace.root / FILE_NAME
    text = path.read_text(encoding="utf-8")
    before = tomllib.loads(text)
    old = list(before.get("plugins", {}).get("trusted", []))
    new = [entry for entry in old if not about.names(entry)] + ([about.entry] if keep else [])
    if new == old:
        return False
    changed = _with_list(text, new)
    wanted = {**before, "plugins": {**before.get("plugins", {}), "trusted": new}}
    if changed is None or _read(changed) != wanted:
        raise TrustError(
            f"{path}: cannot be changed safely; write this under [plugins] yourself: trusted = {_list(new)}"
        )
    aside = path.with_name(f".{path.name}.{os.getpid()}")
    aside.write_text(changed, encoding="utf-8")
    aside.replace(path)
    return True


def _read(text: str) -> dict[str, object] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _list(entries: list[str]) -> str:
    quoted = ['"' + entry.replace("\\", "\\\\").replace('"', '\\"') + '"' for entry in entries]
    return "[" + ", ".join(quoted) + "]"


def _with_list(text: str, entries: list[str]) -> str | None:
    """Return the text with the list in place of the old one, or added; None where the place cannot be told."""
    lines = text.split("\n")
    headings = [number for number, line in enumerate(lines) if line.strip().startswith("[plugins]")]
    if not headings:
        return text.rstrip("\n") + f"\n\n[plugins]\ntrusted = {_list(entries)}\n"
    start = headings[0] + 1
    end = next((n for n in range(start, len(lines)) if lines[n].lstrip().startswith("[")), len(lines))
    for first in range(start, end):
        if lines[first].partition("=")[0].strip() != "trusted":
            continue
        last = _last_line(lines, first)
        if last is None:
            return None
        comment = _comment(lines[first]) if last == first else ""
        return "\n".join([*lines[:first], f"trusted = {_list(entries)}{comment}", *lines[last + 1 :]])
    return "\n".join([*lines[:start], f"trusted = {_list(entries)}", *lines[start:]])


def _last_line(lines: list[str], first: int) -> int | None:
    """Return the line on which the value that begins on a line ends: there it first reads as TOML."""
    for last in range(first, len(lines)):
        try:
            tomllib.loads("\n".join(lines[first : last + 1]))
        except tomllib.TOMLDecodeError:
            continue
        return last
    return None


def _comment(line: str) -> str:
    """Return the comment behind a list on one line, with the blanks before it."""
    after = line.rpartition("]")[2]
    mark = after.find("#")
    if mark < 0 or line.find("#") < line.rfind("]"):
        return ""
    return after
