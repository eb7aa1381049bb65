"""Volumes of surface-dry specimens, as differences of masses and as dry mass over the gravity computed."""

from collections.abc import Iterator

from pipeline.compute import compute
from pipeline.validation.model import Entry, Finding, compared, text

_ROLES = ("mass_dry", "mass_ssd", "mass_submerged")


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the volume of each specimen."""
    for *masses, published in zip(*(entry[role] for role in _ROLES), entry["published"], strict=True):
        inputs = dict(zip(_ROLES, masses, strict=True))
        volume = inputs["mass_dry"] / compute("gmb", inputs).value
        yield compared(entry, "by hand", volume, published, subject="volume, cm³", inputs=text(inputs))
