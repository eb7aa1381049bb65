"""The physics of the scenario: what a mix, its samples, specimens and cores really are."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.scenario.plan import Mix, Sample

Floats = NDArray[np.float64]

#: Change of air voids with binder content, % per %: R 35 estimates 0.4 % binder for 1 % of voids.
_VOIDS_PER_BINDER = -1 / 0.4
_DESIGN_VOIDS = 4.0


def maximum_gravity(pb: float, gse: float, gb: float) -> float:
    """Return Gmm from binder content (% of mix), Gse and Gb: AASHTO R 35, Gse constant."""
    return 100 / ((100 - pb) / gse + pb / gb)


def design_vma(pb: float, gsb: float, gmm: float) -> float:
    """Return VMA (%) at the design air voids: AASHTO R 35."""
    return 100 - gmm * (1 - _DESIGN_VOIDS / 100) * (100 - pb) / gsb


@dataclass(frozen=True)
class Truth:
    """True state of one loose-mix sample; passing (%) in the order of the mix's sieves."""

    pb: float
    gmm: float
    air_voids: float
    slope: float
    passing: Floats


def truth(sample: Sample, rng: np.random.Generator) -> Truth:
    """Draw the true state of a sample: scatter by phase, drift of the plant, voids following the binder."""
    given = sample.mix.given
    _, revision = sample.mix.revision(sample.taken_on)
    scatter = {"verification": 0.02, "startup": 0.07, "production": 0.11}[sample.phase]
    deviation = given.get("binder_drift_pct", 0.0) * sample.progress + scatter * rng.standard_normal()
    pb = revision["pb"] + deviation
    gse = revision["gse"] + 0.0015 * rng.standard_normal()
    voids_scatter = 0.12 if sample.phase == "verification" else 0.32
    voids = _DESIGN_VOIDS + _VOIDS_PER_BINDER * deviation + voids_scatter * rng.standard_normal()
    return Truth(
        pb=pb,
        gmm=maximum_gravity(pb, gse, given["gb"]),
        air_voids=max(voids, 0.8),
        slope=given["slope"] + 0.2 * rng.standard_normal(),
        passing=passing(sample.mix, 0.3 if sample.phase == "verification" else 1.0, rng),
    )


def half(sample: Sample, whole: Truth) -> Truth:
    """Return the truth of the other half of a split sample as its laboratory finds it: with its bias."""
    bias = sample.mix.given["split"]["gmm_bias"]
    # The bias is in the maximum gravity alone: the specimens are as dense as those of the first laboratory.
    voids = 100 - (100 - whole.air_voids) * whole.gmm / (whole.gmm + bias)
    return replace(whole, gmm=whole.gmm + bias, air_voids=voids)


def passing(mix: Mix, scatter: float, rng: np.random.Generator) -> Floats:
    """Draw a gradation around the target: the whole curve moves, each sieve a little; never rising to the fine end."""
    target = np.array(list(mix.gradation.values()))
    # Largest in the middle of the curve, none at 100 % passing.
    freedom = np.where(target < 100, 0.25 + 1.8 * target * (100 - target) / 2500, 0.0)
    drawn = target + scatter * freedom * (0.8 * rng.standard_normal() + 0.3 * rng.standard_normal(len(target)))
    return np.minimum.accumulate(np.clip(drawn, 1.0, 100.0))


def retained(sample_passing: Floats, dry_mass: float, rng: np.random.Generator) -> tuple[float, Floats]:
    """Return the mass after washing and the masses on each sieve and in the pan (g), from the mass before washing."""
    curve = np.concatenate(([100.0], sample_passing, [0.0]))
    shares = (curve[:-1] - curve[1:]) / 100
    masses = dry_mass * shares
    washed_out = masses[-1] * rng.uniform(0.70, 0.85)
    masses[-1] -= washed_out
    after = dry_mass - washed_out
    # What sticks in the sieves: less than 0.1 % of the mass after washing.
    return after, masses * (1 - rng.uniform(0.0002, 0.0009))


@dataclass(frozen=True)
class Bulk:
    """Three weighings of a specimen by AASHTO T 166, in g, with the bath temperature in °C."""

    dry: float
    submerged: float
    ssd: float
    water: float


def bulk(dry: float, gmb: float, absorbed: float, water: float) -> Bulk:
    """Return the weighings of a specimen of dry mass (g), Gmb and water absorbed (% by volume)."""
    volume = dry / gmb
    ssd = dry + absorbed / 100 * volume
    return Bulk(dry, ssd - volume, ssd, water)


def heights(
    relative: float, at: int, slope: float, gyrations: int, final_mm: float, rng: np.random.Generator
) -> Floats:
    """Return heights (mm, 0.1 mm) at gyration 0 … gyrations; they never increase.

    Parameters
    ----------
    relative
        %Gmm at gyration `at`.
    slope
        Gain in %Gmm per decade of gyrations.
    final_mm
        Height after the last gyration; %Gmm is inversely proportional to the height.
    """
    numbers = np.arange(1, gyrations + 1)
    density = relative + slope * (np.log10(numbers) - np.log10(at))
    curve = final_mm * density[-1] / density + 0.015 * rng.standard_normal(gyrations)
    loose = curve[0] * 1.045
    drawn = np.round(np.concatenate(([loose], curve)), 1)
    return np.minimum.accumulate(drawn)


@dataclass(frozen=True)
class Core:
    """One core: place on the project, thickness, density in % of Gmm and water absorbed (% by volume)."""

    station_m: float
    offset_m: float
    thickness_mm: float
    relative: float
    absorbed: float


def cores(sample: Sample, rng: np.random.Generator) -> list[Core]:
    """Draw three to five cores of a lot; the looser the mat, the more water it takes up."""
    mean, by_lot, by_core = sample.mix.project["core_pct_gmm"]
    count = int(rng.integers(3, 6))
    relative = mean + by_lot * rng.standard_normal() + by_core * rng.standard_normal(count)
    relative = np.clip(relative, 88.5, 97.5)
    absorbed = np.clip(0.45 + 0.11 * (94 - relative) + 0.08 * rng.standard_normal(count), 0.2, 1.6)
    start = 4000.0 * sample.progress
    stations = np.sort(start + rng.uniform(0, 800, count))
    offsets = rng.uniform(-3.4, 3.4, count)
    thickness = sample.mix.given["lift_mm"] + 2.0 * rng.standard_normal(count)
    columns = (stations.round(1), offsets.round(2), thickness.round(1), relative, absorbed)
    return [Core(*map(float, row)) for row in zip(*columns, strict=True)]
