"""Decides which candidate may run: installing a package is not consent to run it."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

from plugins.sources import Installed, LocalCode, is_local, normal


@dataclass(frozen=True)
class Decision:
    """Whether a candidate may run.

    Attributes
    ----------
    word
        `trusted`, `not trusted` or `changed`.
    sentence
        Why it was not loaded and what to do; empty where it may run.
    """

    word: str
    sentence: str = ""

    @property
    def allowed(self) -> bool:
        """Return whether it may run."""
        return not self.sentence


class Trust:
    """The entries under `[plugins] trusted`, asked about candidates.

    Parameters
    ----------
    entries
        `NAME` or `NAME==VERSION` for an installed distribution, `importers/NAME@sha256:HASH` for local code.
    """

    def __init__(self, entries: Collection[str] = ()) -> None:
        self.entries = tuple(entries)

    @cached_property
    def _distributions(self) -> dict[str, str]:
        """Return distribution -> the version it is pinned to, or nothing."""
        parts = (entry.partition("==") for entry in self.entries if not is_local(entry))
        return {normal(name.strip()): version.strip() for name, _, version in parts}

    @cached_property
    def _code(self) -> dict[str, str]:
        return {
            place.strip(): pin.strip()
            for place, _, pin in (entry.partition("@") for entry in self.entries if is_local(entry))
        }

    def installed(self, candidate: Installed) -> Decision:
        """Decide on the plugin of an installed distribution."""
        pinned = self._distributions.get(normal(candidate.distribution))
        name = f"'{candidate.point.name}' of {candidate.distribution} {candidate.version}"
        if pinned is None:
            remedy = f"to trust it: mixledger trust {candidate.distribution}"
            return Decision("not trusted", f"{name} is not trusted and was not loaded; {remedy}")
        if pinned and pinned != candidate.version:
            remedy = f"to trust the new one: mixledger trust --pin {candidate.distribution}"
            return Decision("changed", f"{name} was not loaded: version {pinned} is trusted; {remedy}")
        return Decision("trusted")

    def local(self, candidate: LocalCode) -> Decision:
        """Decide on code in the workspace: only the bytes that were trusted run."""
        pinned = self._code.get(candidate.place)
        name = f"the workspace's {candidate.path.parent.name}/{candidate.path.name}"
        if pinned is None:
            remedy = f"read it, then: mixledger trust {candidate.place}"
            return Decision("not trusted", f"{name} is not trusted and was not loaded; {remedy}")
        if pinned != f"sha256:{candidate.sha256}":
            remedy = f"read the change, then: mixledger trust {candidate.place}"
            return Decision("changed", f"{name} was not loaded: it has changed since it was trusted; {remedy}")
        return Decision("trusted")
