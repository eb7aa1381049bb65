"""Records made of the inputs of a check value, so that it runs through the whole derivation."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

import polars as pl

from pipeline.derive import Derived, Inputs, derive
from pipeline.settings import Results
from schemas.describe import describe

TAKEN = date(2025, 5, 2)
#: Property -> method whose weighings give it.
_METHOD = {
    "gmb": "t166",
    "water_absorption": "t166",
    "gmm": "t209",
    "pb": "t308",
    "passing": "t30",
    "sieving_loss": "t30",
    **dict.fromkeys(("gsb_coarse", "gsb_ssd_coarse", "gsa_coarse", "absorption_coarse"), "t85"),
    **dict.fromkeys(("gsb_fine", "gsb_ssd_fine", "gsa_fine", "absorption_fine"), "t84"),
    **dict.fromkeys(("measure_volume", "fine_mass"), "t304"),
    **dict.fromkeys(("fractured_one", "fractured_two"), "t335"),
    "sand_equivalent": "t176",
    "washed_fines": "t27",
}
#: Masses that only one other method weighs -> that method.
_BY_ROLE = {"sealed": "t331", "split_first": "r76"}
_OF_CORES = ("relative_compaction", "core_air_voids", "core_density", "relative_compaction_reference")
#: Methods of aggregate samples.
_AGGREGATE = ("t84", "t85", "t304", "t335", "t176", "t27", "d4791")
_DESIGN = {
    "gb": "gb",
    "gsb": "gsb",
    "ignition_correction": "ignition_correction_pct",
    "reference_density": "reference_density_kg_m3",
}
#: Wherever a gravity itself is given, a specimen of this volume in cm³ is weighed.
_VOLUME = 1000.0


def frame(record: str, rows: Iterable[Mapping[str, object]]) -> pl.DataFrame:
    """Return rows of a record; columns left out are null, provenance is made up."""
    schema = describe(record).schema()
    made = [
        dict.fromkeys(schema) | {"export_hash": "made", "source_line": line} | dict(row)
        for line, row in enumerate(rows, start=1)
    ]
    return pl.DataFrame(made, schema=schema, orient="row")


def sample(sample_id: str = "S1", **given: object) -> dict[str, object]:
    """Return a loose-mix sample of project P, mix HB-1, lot 1."""
    made = {"sample_id": sample_id, "project_id": "P", "mix_id": "HB-1", "material": "mix", "phase": "production"}
    return made | {"laboratory_id": "L", "lot": "1", "taken_on": TAKEN} | given


def design(**given: object) -> dict[str, object]:
    """Return revision 1 of mix HB-1."""
    return {"mix_id": "HB-1", "revision": 1, "valid_from": date(2025, 1, 1), "nmas_mm": 12.5} | given


def weighed(method: str, sample_id: str = "S1", specimen_no: str = "1", **masses: float) -> list[dict[str, object]]:
    """Return the weighings of one specimen by role."""
    key = {"sample_id": sample_id, "specimen_no": specimen_no, "method": method}
    return [{**key, "role": role, "mass_g": mass} for role, mass in masses.items()]


def retained(
    masses: Mapping[float, float],
    sample_id: str = "S1",
    specimen_no: str = "1",
    method: str = "t30",
    role: str = "retained",
) -> list[dict[str, object]]:
    """Return masses of a role by opening of the sieve; 0 is the pan."""
    key = {"sample_id": sample_id, "specimen_no": specimen_no, "method": method, "role": role}
    return [{**key, "sieve_mm": sieve, "mass_g": mass} for sieve, mass in masses.items()]


def of_gmb(gmb: float, sample_id: str = "S1", specimen_no: str = "1") -> list[dict[str, object]]:
    """Return weighings that give this Gmb, without absorption."""
    mass = gmb * _VOLUME
    return weighed("t166", sample_id, specimen_no, dry=mass, ssd=mass, submerged=mass - _VOLUME)


def of_gmm(gmm: float, sample_id: str = "S1", specimen_no: str = "1") -> list[dict[str, object]]:
    """Return weighings in water that give this Gmm."""
    mass = gmm * _VOLUME
    submerged = {"container_submerged": 500.0, "container_sample_submerged": 500.0 + mass - _VOLUME}
    return weighed("t209", sample_id, specimen_no, dry=mass, **submerged)


def wheel(recorded: Sequence[int], depths: Sequence[float], **given: object) -> pl.DataFrame:
    """Return the figures of one wheel's record with these depths in mm, the same at all positions."""
    key = {"sample_id": "S1", "specimen_no": "1", "wheel": "left"}
    positions = [f"depth_{number:02d}_mm" for number in range(1, 12)]
    header = {**key, "passes": max(recorded), "stop_reason": "passes"} | given
    rows = [
        {**key, "wheel_pass": at, **dict.fromkeys(positions, depth)} for at, depth in zip(recorded, depths, strict=True)
    ]
    made = {"sample": [sample()], "mix_design": [design()], "wheel_run": [header], "wheel_depth": rows}
    return derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values


def measured(method: str, sample_id: str = "S1", specimen_no: str = "1", **lengths: float) -> list[dict[str, object]]:
    """Return four readings of the same length by role, one where the method takes one."""
    key = {"sample_id": sample_id, "specimen_no": specimen_no, "method": method}
    return [
        {**key, "role": role, "reading": number, "length_mm": length}
        for role, length in lengths.items()
        for number in ((1,) if method == "t176" else (1, 2, 3, 4))
    ]


def derived(prop: str, inputs: Mapping[str, float], choices: Mapping[str, Any] | None = None) -> Derived | None:
    """Derive from records made of these inputs; None where one of them cannot be weighed or registered.

    The apparent gravity of a sealing bag is a setting; `choices` are others.
    """
    rows: list[dict[str, object]] = []
    masses = {name.removeprefix("mass_"): value for name, value in inputs.items() if name.startswith("mass_")}
    lengths = {name.removeprefix("length_"): value for name, value in inputs.items() if name.startswith("length_")}
    rest = {name: value for name, value in inputs.items() if not name.startswith(("mass_", "length_"))}
    cumulative = masses.pop("retained_cumulative", masses.pop("retained_total", None))
    settings = Results(**{**_bag(rest), **(choices or {})})
    method = next((word for role, word in _BY_ROLE.items() if role in masses), _METHOD.get(prop))
    method = "t269" if lengths and method != "t176" else method
    if (masses or lengths) and method is None:
        return None
    if masses and method:
        rows += weighed(method, "S1", "1", **masses)
    if cumulative is not None:
        rows += retained({4.75: cumulative})
    core = prop in _OF_CORES
    if "gmb" in rest:
        rows += of_gmb(rest.pop("gmb"), "C1" if core else "S1")
    if "gmm" in rest:
        rows += of_gmm(rest.pop("gmm"))
    mix = {column: rest.pop(name) for name, column in _DESIGN.items() if name in rest}
    batched = rest.pop("pb", 100 - rest["ps"] if "ps" in rest else None)
    if rest.keys() - {"ps"}:
        return None
    material = "aggregate" if _METHOD.get(prop) in _AGGREGATE else "mix"
    samples = [sample(pb_batched_pct=batched, material=material), *([sample("C1", material="core")] if core else [])]
    made = {"sample": samples, "mix_design": [design(**mix)], "weighing": rows}
    made["dimension"] = measured(method, "S1", "1", **lengths) if lengths and method else []
    return derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()}), settings)


def _bag(rest: dict[str, float]) -> dict[str, object]:
    """Take the apparent gravity of the bag out of the inputs, as settings."""
    given = [rest.pop(name) for name in ("bag_gravity", "bag_gravity_change") if name in rest]
    return dict.fromkeys(("bag_gravity_small", "bag_gravity_large"), tuple(given)) if given else {}
