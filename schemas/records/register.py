"""Register: laboratories, projects, mix designs, samples, instruments and their calibrations."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import Material, Outcome, Phase, Purpose


class Laboratory(Traced):
    """A laboratory of the firm."""

    laboratory_id: str = column("Short name of the laboratory.")
    laboratory_name: str = column("Name in full.")
    region: str = column("Region it serves.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("laboratory_id",)).as_metadata()


class Project(Traced):
    """A paving project with its contract limits."""

    project_id: str = column("Short name of the project.")
    project_name: str = column("Name in full.")
    character: str = column("Kind of work: such as new highway, thin overlay or airfield.", nullable=True)
    client: str = column("Who the work is done for.", nullable=True)
    laboratory_id: str = column("Laboratory in charge.")
    set_id: str = column("Specification set the results are judged against.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("project_id",), refers={"laboratory_id": "laboratory"}).as_metadata()


class MixDesign(Traced):
    """One revision of a mix design (job mix formula)."""

    mix_id: str = column("Short name of the mix.")
    revision: pl.Int64 = column("Revision of the design, from 1.", at_least=1)
    valid_from: pl.Date = column("First day on which samples belong to this revision.")
    project_id: str = column("Project it is designed for.", nullable=True)
    plant: str = column("Plant that produces it.", nullable=True)
    nmas_mm: float = column("Nominal maximum aggregate size.", unit="mm", above=0, at_most=75)
    binder_grade: str = column("Performance grade of the binder.", nullable=True)
    traffic: str = column("Traffic class it is designed for, as the contract calls it.", nullable=True)
    layer: str = column("Layer it is designed for, such as surface.", nullable=True)
    gb: float = column("Specific gravity of the binder (Gb).", above=0.8, at_most=1.3, nullable=True)
    pb_pct: float = column(
        "Target binder content (Pb), of the mix by mass.", unit="%", above=0, at_most=15, nullable=True
    )
    gsb: float = column("Combined bulk specific gravity of the aggregate (Gsb).", above=1.5, at_most=4, nullable=True)
    gsa: float = column(
        "Combined apparent specific gravity of the aggregate (Gsa).", above=1.5, at_most=4, nullable=True
    )
    gmm: float = column(
        "Maximum specific gravity at the target binder content (Gmm).", above=1.5, at_most=4, nullable=True
    )
    air_voids_pct: float = column("Target air voids (Va).", unit="%", at_least=0, at_most=30, nullable=True)
    vma_pct: float = column(
        "Design voids in the mineral aggregate (VMA).", unit="%", at_least=0, at_most=50, nullable=True
    )
    n_initial: pl.Int64 = column("Gyrations at the initial level.", at_least=1, nullable=True)
    n_design: pl.Int64 = column("Gyrations at the design level.", at_least=1, nullable=True)
    n_maximum: pl.Int64 = column("Gyrations at the maximum level.", at_least=1, nullable=True)
    ignition_correction_pct: float = column(
        "Correction factor of the ignition furnace for this mix (AASHTO T 308).",
        unit="%",
        at_least=-2,
        at_most=5,
        nullable=True,
    )
    reference_density_kg_m3: float = column(
        "Density the pavement is compared with, besides Gmm: such as that of laboratory specimens.",
        unit="kg/m³",
        above=500,
        at_most=4000,
        nullable=True,
    )
    recycled_pct: float = column(
        "Recycled asphalt in the mix, by mass.", unit="%", at_least=0, at_most=100, nullable=True
    )

    class Config:
        """Key and ties."""

        metadata = Ties(key=("mix_id", "revision"), refers={"project_id": "project"}).as_metadata()


class MixGradation(Traced):
    """Target gradation of a mix design, one row per sieve."""

    mix_id: str = column("Mix the target belongs to.")
    revision: pl.Int64 = column("Revision of the design.", at_least=1)
    sieve_mm: float = column("Opening of the sieve (ASTM E11).", unit="mm", above=0, at_most=125)
    passing_pct: float = column("Target passing, by mass.", unit="%", at_least=0, at_most=100)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("mix_id", "revision", "sieve_mm"), refers={"mix_id": "mix_design"}).as_metadata()


class Stockpile(Traced):
    """One aggregate in the blend of a mix design: its share, where it comes from, its gravities."""

    mix_id: str = column("Mix it is blended into.")
    revision: pl.Int64 = column("Revision of the design.", at_least=1)
    stockpile: str = column("Name of the stockpile, such as crushed 12.5 mm or reclaimed asphalt.")
    share_pct: float = column("Share of the aggregate, by mass.", unit="%", above=0, at_most=100)
    source: str = column("Pit, quarry or plant it comes from; a changed source makes a start-up due.", nullable=True)
    gsb: float = column("Bulk specific gravity (Gsb).", above=1.5, at_most=4, nullable=True)
    gsa: float = column("Apparent specific gravity (Gsa).", above=1.5, at_most=4, nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("mix_id", "revision", "stockpile"), refers={"mix_id": "mix_design"}).as_metadata()


class Sample(Traced):
    """A sample as the register knows it."""

    sample_id: str = column("Label of the sample; every export names it.")
    project_id: str = column("Project it was taken for.")
    mix_id: str = column("Mix it was taken from.")
    material: str = column("What it consists of.", words=Material)
    phase: str = column("Verification, start-up or production.", words=Phase)
    laboratory_id: str = column("Laboratory that tests it.")
    lot: str = column("Lot of the project and mix.", nullable=True)
    sublot: str = column("Sublot within the lot.", nullable=True)
    taken_on: pl.Date = column("Day on which it was taken.")
    place: str = column("Where it was taken.", nullable=True)
    tonnage_t: float = column("Tonnage produced when it was taken.", unit="t", at_least=0, nullable=True)
    purpose: str = column("What it was taken for; null is acceptance.", words=Purpose, nullable=True)
    split_of: str = column("Sample it is the other half of.", nullable=True)
    pb_batched_pct: float = column(
        "Binder content it was batched with; laboratory-made mixture only.",
        unit="%",
        above=0,
        at_most=15,
        nullable=True,
    )

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id",),
            refers={"project_id": "project", "mix_id": "mix_design", "laboratory_id": "laboratory"},
        ).as_metadata()


class Instrument(Traced):
    """An instrument of a laboratory."""

    instrument_id: str = column("Short name of the instrument; exports name it.")
    laboratory_id: str = column("Laboratory it stands in.")
    kind: str = column("Such as balance, gyratory compactor or wheel tracker.")
    readability_g: float = column("Smallest step of a balance.", unit="g", above=0, nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("instrument_id",), refers={"laboratory_id": "laboratory"}).as_metadata()


class Calibration(Traced):
    """One calibration of an instrument."""

    instrument_id: str = column("Instrument that was calibrated.")
    calibrated_on: pl.Date = column("Day of the calibration.")
    due_on: pl.Date = column("Last day on which it still counts.")
    outcome: str = column("Accepted or rejected.", words=Outcome)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("instrument_id", "calibrated_on"), refers={"instrument_id": "instrument"}).as_metadata()
