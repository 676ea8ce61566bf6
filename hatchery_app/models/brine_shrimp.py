"""Lots of brine-shrimp cysts and what is done with them: started, harvested, enriched, fed."""

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.live_food.shrimp_hatch import EndedAs, Ripe
from hatchery_app.models.columns import words
from hatchery_app.models.entry import Entry


class CystLot(Entry):
    """A lot of cysts, of one tin on the shelf: its grade and what its label or a test says."""

    __tablename__ = "cyst_lot"
    __table_args__ = (
        CheckConstraint(
            "hatch_percent is null or (hatch_percent > 0 and hatch_percent <= 100)",
            name="percent_of_cysts",
        ),
        CheckConstraint("nauplii_per_g is null or nauplii_per_g > 0", name="gives_nauplii"),
    )

    shelf_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    grade: Mapped[str] = mapped_column(String(60), default="")
    hatch_percent: Mapped[float | None]
    nauplii_per_g: Mapped[float | None]


class CystsStarted(Entry):
    """Cysts put into water to hatch."""

    __tablename__ = "cysts_started"
    __table_args__ = (CheckConstraint("grams > 0 and litres > 0", name="cysts_in_water"),)

    lot_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    grams: Mapped[float]
    litres: Mapped[float]
    temperature_c: Mapped[float]
    salinity_psu: Mapped[float | None]
    vessel: Mapped[str] = mapped_column(String(40), default="")


class ShrimpHarvested(Entry):
    """A hatch was harvested, or what is in hand of it counted again.

    `animals` is what is in hand; `nauplii`, `umbrellas` and `embryos` were counted in one sample,
    `ripe` says whether it was time.
    """

    __tablename__ = "shrimp_harvested"
    __table_args__ = (
        CheckConstraint("animals is null or animals >= 0", name="animals_not_negative"),
        CheckConstraint("nauplii is null or nauplii >= 0", name="nauplii_not_negative"),
    )

    start_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    animals: Mapped[float | None]
    counted: Mapped[str] = mapped_column(String(200), default="")
    nauplii: Mapped[int | None]
    umbrellas: Mapped[int | None]
    embryos: Mapped[int | None]
    ripe: Mapped[Ripe] = mapped_column(words(Ripe, "ripe"), default=Ripe.IN_TIME)
    rinsed: Mapped[bool] = mapped_column(default=True)


class ShrimpEnriched(Entry):
    """Shrimp put into enrichment, with what and for how long."""

    __tablename__ = "shrimp_enriched"
    __table_args__ = (CheckConstraint("hours > 0", name="takes_some_time"),)

    start_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    shelf_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)
    what: Mapped[str] = mapped_column(String(80), default="")
    amount: Mapped[float | None]
    hours: Mapped[float]
    litres: Mapped[float | None]


class ShrimpFed(Entry):
    """Shrimp of a hatch fed out or moved: how many, where to, whether they were rinsed."""

    __tablename__ = "shrimp_fed"
    __table_args__ = (CheckConstraint("animals is null or animals > 0", name="some_animals"),)

    start_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    animals: Mapped[float | None]
    into: Mapped[str] = mapped_column(String(120), default="")
    rinsed: Mapped[bool] = mapped_column(default=True)


class HatchOver(Entry):
    """A hatch of brine shrimp is over: used up, failed or poured away."""

    __tablename__ = "hatch_over"

    start_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    ended_as: Mapped[EndedAs] = mapped_column(words(EndedAs, "ended_as"))
    reason: Mapped[str] = mapped_column(String(200), default="")
