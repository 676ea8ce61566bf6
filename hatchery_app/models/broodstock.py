"""The breeding fish. What changes in a fish's life (sex, length, place) is a dated entry of its
own; a role in a clutch belongs to the clutch."""

from datetime import UTC, date, datetime, time, timedelta

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from hatchery_app.domain.broodstock.body_length import Beside, LengthKind
from hatchery_app.domain.broodstock.broodstock import Origin, SpeciesOpinion
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause, LinkKind
from hatchery_app.domain.broodstock.sex_state import Sex, Standing
from hatchery_app.domain.when import When
from hatchery_app.models.columns import words
from hatchery_app.models.entry import Entry
from hatchery_app.models.parents import ParentColumns


class Fish(ParentColumns, Entry):
    """One fish known singly. Happened: when it came into the room. Names need not be unique."""

    __tablename__ = "fish"

    name: Mapped[str] = mapped_column(String(80))
    species_key: Mapped[str] = mapped_column(String(80), default="")
    species_evidence: Mapped[str] = mapped_column(String(200), default="")
    crossed_with: Mapped[str] = mapped_column(String(80), default="")
    variety: Mapped[str] = mapped_column(String(80), default="")
    origin: Mapped[Origin] = mapped_column(words(Origin, "origin"))
    origin_said: Mapped[str] = mapped_column(String(200), default="")
    born_earliest_on: Mapped[date | None]
    born_latest_on: Mapped[date | None]
    clutch_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))
    group_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"))

    @property
    def opinion(self) -> SpeciesOpinion:
        """What it was held to be when it was entered."""
        evidence = (self.species_evidence,) if self.species_evidence else ()
        return SpeciesOpinion(self.species_key, self.when, evidence, self.crossed_with)

    @property
    def born(self) -> When | None:
        """Its hatch by whole days, None where that is not known."""
        if self.born_earliest_on is None:
            return None
        last = self.born_latest_on or self.born_earliest_on
        return When(_midnight(self.born_earliest_on), _midnight(last + timedelta(days=1)))


class BroodGroup(Entry):
    """Fish kept together without individual identity, until a pair forms among them."""

    __tablename__ = "brood_group"
    __table_args__ = (CheckConstraint("number > 0", name="some_fish"),)

    name: Mapped[str] = mapped_column(String(80))
    number: Mapped[int]
    species_key: Mapped[str] = mapped_column(String(80), default="")
    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"))


class GroupLeft(Entry):
    """So many fish left a group, by a named way."""

    __tablename__ = "group_left"
    __table_args__ = (CheckConstraint("number > 0", name="some_fish"),)

    group_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    number: Mapped[int]
    how: Mapped[str] = mapped_column(String(40))


class SpeciesSeen(Entry):
    """What somebody held a fish to be from then on, with the evidence."""

    __tablename__ = "species_seen"

    fish_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    species_key: Mapped[str] = mapped_column(String(80))
    evidence: Mapped[str] = mapped_column(String(200), default="")
    crossed_with: Mapped[str] = mapped_column(String(80), default="")

    def facts(self) -> SpeciesOpinion:
        """The opinion as the domain holds it."""
        evidence = (self.evidence,) if self.evidence else ()
        return SpeciesOpinion(self.species_key, self.when, evidence, self.crossed_with)


class SexSeen(Entry):
    """What sex a fish was thought or proven to be from then on. `evidence`: words with commas."""

    __tablename__ = "sex_seen"

    fish_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    sex: Mapped[Sex] = mapped_column(words(Sex, "sex"))
    standing: Mapped[Standing] = mapped_column(words(Standing, "standing"))
    evidence: Mapped[str] = mapped_column(String(120), default="")


class LengthMeasured(Entry):
    """A fish's length that day, measured or by eye."""

    __tablename__ = "length_measured"
    __table_args__ = (CheckConstraint("length_mm > 0", name="has_length"),)

    fish_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    length_mm: Mapped[float]
    measure: Mapped[LengthKind] = mapped_column(words(LengthKind, "length_kind"))
    by_eye: Mapped[bool] = mapped_column(default=False)
    typed: Mapped[str] = mapped_column(String(40), default="")


class SizeLooked(Entry):
    """How a fish looked in size beside another, by eye."""

    __tablename__ = "size_looked"

    fish_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    other_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    beside: Mapped[Beside] = mapped_column(words(Beside, "beside"))


class FishPlaced(Entry):
    """The tank a fish was in from then on."""

    __tablename__ = "fish_placed"

    fish_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    tank_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)


class FishLeft(Entry):
    """A fish left the room, by a named door."""

    __tablename__ = "fish_left"

    fish_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    door: Mapped[WayOut] = mapped_column(words(WayOut, "way_out"))
    reason: Mapped[str] = mapped_column(String(200), default="")


class HealthBarred(Entry):
    """A reason not to breed from or move a fish. Lifted by an entry of its own."""

    __tablename__ = "health_barred"

    fish_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    reason: Mapped[str] = mapped_column(String(200))


class HealthBarLifted(Entry):
    """The end of a bar."""

    __tablename__ = "health_bar_lifted"

    bar_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)


class Pair(Entry):
    """Two fish linked from then on: a pair, or kept together without being one.

    `earlier_clutches` were laid before the records began, so that an old pair's first recorded
    clutch is not taken for its first ever.
    """

    __tablename__ = "pair"
    __table_args__ = (
        CheckConstraint("female_id <> male_id", name="two_fish"),
        CheckConstraint("earlier_clutches >= 0", name="clutches_not_negative"),
    )

    name: Mapped[str] = mapped_column(String(80), default="")
    female_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    male_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    link: Mapped[LinkKind] = mapped_column(words(LinkKind, "link"))
    earlier_clutches: Mapped[int] = mapped_column(default=0)


class PairEnded(Entry):
    """The end of a link, with its reason. The pair's clutches stay its own.

    `fish_left_id` is the loss that ended it: with the loss taken back the pair stands again.
    """

    __tablename__ = "pair_ended"

    pair_id: Mapped[int] = mapped_column(ForeignKey("entry.seq"), index=True)
    because: Mapped[EndedBecause] = mapped_column(words(EndedBecause, "because"))
    fish_left_id: Mapped[int | None] = mapped_column(ForeignKey("entry.seq"), index=True)


class FeedingRota(Entry):
    """The foods in the house by form, from then on; of each form a list with commas."""

    __tablename__ = "feeding_rota"

    dry: Mapped[str] = mapped_column(String(400))
    frozen: Mapped[str] = mapped_column(String(400), default="")
    fresh: Mapped[str] = mapped_column(String(400), default="")
    meals_a_day: Mapped[int] = mapped_column(default=2)


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(0), UTC)
