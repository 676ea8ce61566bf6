"""What is done and seen at a culture vessel. The vessel itself is a tank kept for live food."""

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.live_food.vessel import Cultured, KeptAs, WaterLook
from hatchery_app.models.columns import words
from hatchery_app.models.entry import Entry


class CultureStarted(Entry):
    """What a vessel holds from then on: begun, or restarted in a clean vessel from another."""

    __tablename__ = "culture_started"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    food: Mapped[Cultured] = mapped_column(words(Cultured, "cultured"))
    strain: Mapped[str] = mapped_column(String(40), default="")
    kept_as: Mapped[KeptAs] = mapped_column(words(KeptAs, "kept_as"))
    salinity_psu: Mapped[float | None]
    from_tank_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))
    seed: Mapped[str] = mapped_column(String(120), default="")


class CultureCounted(Entry):
    """A count of a vessel with its replicates and the eggs on the same animals, or a look."""

    __tablename__ = "culture_counted"
    __table_args__ = (
        CheckConstraint("sample_ml > 0", name="counts_some_water"),
        CheckConstraint("dilution >= 1", name="is_thinned_or_not"),
        CheckConstraint("eggs is null or eggs >= 0", name="eggs_not_negative"),
    )

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    counts: Mapped[str] = mapped_column(String(200), default="")
    sample_ml: Mapped[float] = mapped_column(default=1.0)
    dilution: Mapped[float] = mapped_column(default=1.0)
    eggs: Mapped[int | None]
    look: Mapped[str] = mapped_column(String(16), default="")


class CopepodsCounted(Entry):
    """A count of copepods by stage: nauplii, copepodites and adults in one sample."""

    __tablename__ = "copepods_counted"
    __table_args__ = (
        CheckConstraint("sample_ml > 0", name="counts_some_water"),
        CheckConstraint("dilution >= 1", name="is_thinned_or_not"),
        CheckConstraint(
            "nauplii >= 0 and copepodites >= 0 and adults >= 0", name="stages_not_negative"
        ),
    )

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    nauplii: Mapped[int]
    copepodites: Mapped[int]
    adults: Mapped[int]
    sample_ml: Mapped[float] = mapped_column(default=1.0)
    dilution: Mapped[float] = mapped_column(default=1.0)


class CultureLooked(Entry):
    """What was seen of a vessel's water and its animals, beside any count."""

    __tablename__ = "culture_looked"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    seen: Mapped[WaterLook] = mapped_column(words(WaterLook, "water_look"))


class CultureFed(Entry):
    """What a vessel was fed."""

    __tablename__ = "culture_fed"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    what: Mapped[str] = mapped_column(String(80))
    amount: Mapped[float | None]
    unit: Mapped[str] = mapped_column(String(8), default="mL")


class CultureHarvested(Entry):
    """Culture sieved and made up with new water: its litres, or the animals that were got."""

    __tablename__ = "culture_harvested"
    __table_args__ = (
        CheckConstraint("litres is not null or animals is not null", name="says_how_much"),
        CheckConstraint("litres is null or litres > 0", name="litres_above_none"),
        CheckConstraint("animals is null or animals > 0", name="animals_above_none"),
    )

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    litres: Mapped[float | None]
    animals: Mapped[float | None]
    into: Mapped[str] = mapped_column(String(120), default="")


class CultureCrashed(Entry):
    """The culture of a vessel was lost then; nothing of it goes to larvae."""

    __tablename__ = "culture_crashed"

    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    reason: Mapped[str] = mapped_column(String(200), default="")
