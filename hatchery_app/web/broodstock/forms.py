"""What is asked of fish, pairs and groups. Everything but a name can be left as not known."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from flask import g
from wtforms import BooleanField, RadioField, SelectField, SelectMultipleField, StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.broodstock.body_length import Beside, LengthKind
from hatchery_app.domain.broodstock.broodstock import Origin
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause, LinkKind
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, Standing
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.since import read_days, read_since
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.typed_amounts import parse_length
from hatchery_app.domain.units import INCH, MILLIMETRE
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock.pairs_moving_in import (
    LinesRefused,
    PairLine,
    earlier_clutches_said,
)
from hatchery_app.web import whole_numbers
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields

LINES_OFFERED = 12
SINCE_HINT = "2023, summer 2022, May 2024, 2024-05-12, about 3 years, or leave empty"
FISH, GROUP = "fish:", "group:"


def _words(of: Any) -> dict[str, str]:
    return {word.value: word.value for word in of}


def _chosen(label: str, **more: Any) -> SelectField:
    return SelectField(label, validate_choice=False, **more)


def _text(label: str, longest: int = 80, **more: Any) -> StringField:
    return StringField(label, validators=[Optional(), Length(max=longest)], **more)


class SinceField:
    """Mix into an EntryForm: since about when, in the keeper's words."""

    since = _text("Here since", 40, description=SINCE_HINT)

    def read_since(self) -> When:
        """The When of what was said. Raises RuleBroken beside the field."""
        return read_since(self.since.data or "", g.now, g.room.room_time)


class FishForm(EntryForm, SinceField):
    """One fish: a name, and as much as is known."""

    name = _text("Name", description="A number will do. Two fish may share a name.")
    species_key = _chosen("Species")
    species_evidence = _text(
        "How that is known", 200,
        description="bought as, bred here, 11 dorsal spines (10 in percula; the counts overlap)",
    )
    crossed_with = _text("Crossed with", description="only for a cross of two species")
    variety = _text("Line or variety", description="in your own words")
    tank_id = _chosen("Tank")
    origin = RadioField("Origin", choices=_words(Origin), default=Origin.UNKNOWN.value)
    origin_said = _text("What the seller or collector said", 200)
    hatched = _text("Hatched", 40, description=SINCE_HINT)
    mother = _chosen("Mother")
    mother_or = _chosen("or this one")
    father = _chosen("Father")
    father_or = _chosen("or this one")

    def offer(
        self,
        *,
        species: Mapping[str, str],
        tanks: Mapping[str, str],
        fish: Mapping[int, str],
        groups: Mapping[int, str],
    ) -> None:
        """Fill the lists to choose from."""
        self.species_key.choices = {"": "not known"} | dict(species)
        self.tank_id.choices = {"": "not said"} | dict(tanks)
        named = {f"{FISH}{ident}": label for ident, label in fish.items()}
        members = {f"{GROUP}{ident}": f"one of {label}" for ident, label in groups.items()}
        less = {"": "not known", "wild": "wild", "bought": "bought, seller says"}
        self.mother.choices = self.father.choices = less | named | members
        self.mother_or.choices = self.father_or.choices = {"": "–"} | named

    def read_born(self) -> tuple[date | None, date | None]:
        """First and last day it can have hatched; None where not known."""
        if not (self.hatched.data or "").strip():
            return None, None
        try:
            return read_days(self.hatched.data or "", g.room.room_time.local(g.now).date())
        except RuleBroken as refused:
            raise RuleBroken(refused.sentence, field="hatched") from refused

    def read_parents(self, standing: Parents | None = None) -> Parents:
        """Its parents as far as known.

        One that is left as it is `standing` stays so: the lists show two candidates, and there
        may be more of them, or a seller's words.
        """
        claim = (self.origin_said.data or "").strip()
        mother = (self.mother.data or "", self.mother_or.data or "")
        father = (self.father.data or "", self.father_or.data or "")
        try:
            return Parents(
                standing.female if standing and parent_choice(standing.female) == mother
                else _parent(*mother, claim),
                standing.male if standing and parent_choice(standing.male) == father
                else _parent(*father, claim),
            )  # fmt: skip
        except RuleBroken as refused:
            raise RuleBroken(refused.sentence, field="mother") from refused


def _parent(one: str, other: str, claim: str) -> Parent:
    if one == "wild":
        return Parent.wild(claim)
    if one == "bought":
        return Parent.bought(claim)
    if one.startswith(GROUP):
        return Parent.group(chosen_id(one.removeprefix(GROUP)) or 0)
    named = [chosen_id(v.removeprefix(FISH)) or 0 for v in (one, other) if v.startswith(FISH)]
    if len(named) == 2:
        return Parent.one_of(*named)
    return Parent.fish(named[0]) if named else Parent.unknown()


def parent_choice(parent: Parent) -> tuple[str, str]:
    """What the two lists show for a parent that is known already."""
    if parent.group_id is not None:
        return f"{GROUP}{parent.group_id}", ""
    if parent.fish_ids:
        first, *others = (f"{FISH}{ident}" for ident in parent.fish_ids)
        return first, others[0] if others else ""
    return (parent.known_as.value if parent.known_as in ("wild", "bought") else ""), ""


class SexForm(EntryForm, WhenFields):
    """What sex a fish is thought or proven to be from then on."""

    sex = RadioField("It is", choices=_words(Sex), default=Sex.UNKNOWN.value)
    standing = RadioField(
        "How sure",
        choices=_words(Standing),
        default=Standing.THOUGHT.value,
        description="Only eggs prove a sex. Earlier states stay as they were.",
    )
    evidence = SelectMultipleField(
        "What it rests on", choices=_words(SexEvidence), validate_choice=False
    )


class SpeciesForm(EntryForm, WhenFields):
    """What somebody holds a fish to be."""

    species_key = _chosen("It is held to be")
    evidence = _text(
        "Evidence", 200,
        description="11 dorsal spines speaks for ocellaris, 10 for percula; the counts overlap",
    )
    crossed_with = _text("Crossed with", description="only for a cross of two species")


class LengthForm(EntryForm, WhenFields):
    """A length, measured or by eye."""

    length = _text("Length", 40, description="68, 68 mm, 2.5 in")
    measure = RadioField(
        "What was measured", choices=_words(LengthKind), default=LengthKind.TOTAL.value
    )
    by_eye = BooleanField("By eye")

    def read_length_mm(self) -> float:
        """The length in mm. Raises RuleBroken beside the field."""
        unit = INCH if g.room.length_unit == "in" else MILLIMETRE
        return float(parse_length(self.length.data or "", unit, "length").canonical)


class BesideForm(EntryForm, WhenFields):
    """How a fish looks beside another."""

    beside = RadioField("It looks", choices=_words(Beside), default=Beside.CLEARLY_BIGGER.value)
    other_id = _chosen("beside")


class PlaceForm(EntryForm, WhenFields):
    """The tank it sits in from then on."""

    tank_id = _chosen("Tank")


class BarForm(EntryForm, WhenFields):
    """A reason not to breed from or move a fish."""

    reason = _text("Reason", 200, description="white spot in its tank, torn fin, in quarantine")


class LeftForm(EntryForm, WhenFields):
    """How a fish left."""

    door = RadioField("How", choices=_words(WayOut), default=WayOut.DIED.value)
    reason = _text("What is known of it", 200)


class DeleteForm(EntryForm):
    """Take back a fish that was entered by mistake."""


class PairForm(EntryForm, SinceField):
    """Two fish together."""

    female_id = _chosen("Female, or who is thought to become it")
    male_id = _chosen("Male")
    link = RadioField("They are", choices=_words(LinkKind), default=LinkKind.PAIR.value)
    tank_id = _chosen("Tank")
    since = _text("Together since", 40, description=SINCE_HINT)
    earlier_clutches = _text(
        "Clutches before these records", 20, description="40, about 40, or leave empty"
    )
    name = _text("Name of the pair", description="only if it has one of its own")

    def read_earlier(self) -> int:
        """The clutches before the records. Raises RuleBroken."""
        return earlier_clutches_said(self.earlier_clutches.data or "", "earlier_clutches")


class EndPairForm(EntryForm, WhenFields):
    """Why a pair ended, other than by a loss."""

    because = RadioField(
        "Why",
        choices={
            word.value: word.value
            for word in EndedBecause
            if word not in (EndedBecause.FEMALE_LOST, EndedBecause.MALE_LOST)
        },
        default=EndedBecause.SEPARATED.value,
    )


class GroupForm(EntryForm, SinceField):
    """Fish kept together, none of them known singly."""

    name = _text("Name", description="such as: six in B7")
    number = _text("How many", 6)
    species_key = _chosen("Species")
    tank_id = _chosen("Tank")


class GroupLeftForm(EntryForm, WhenFields):
    """So many fish left a group."""

    number = _text("How many", 6)
    how = RadioField("How", choices={}, default="missing")


class GroupPairForm(EntryForm, WhenFields):
    """A pair has formed in a group."""

    female_name = _text("The larger, or who is thought the female")
    male_name = _text("The male")


class RotaForm(EntryForm):
    """The foods in the house by form."""

    dry = _text("Dry", 400, description="pellets, flake: always among it")
    frozen = _text("Frozen", 400, description="mysis, brine shrimp, chopped clam")
    fresh = _text("Fresh", 400, description="shrimp, roe, mussel")
    meals_a_day = RadioField("Meals a day", choices={"2": "two", "3": "three"}, default="2")


def whole_number(typed: str | None, field: str) -> int:
    """A whole number above 0. Raises RuleBroken beside its field."""
    number = whole_numbers.read((typed or "").strip())
    if not number:
        raise RuleBroken("A whole number of fish, please.", field=field)
    return number


def chosen_id(typed: str | None) -> int | None:
    """The id that was chosen from a list, None for none."""
    return whole_numbers.read(typed or "")


class MovingInForm(EntryForm):
    """Pairs as they sit, line by line. The sentences of a line stand beside its fields."""

    species_key = _chosen("Species of these pairs")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wrong: dict[int, dict[str, str]] = {}

    def read_lines(self, posted: Mapping[str, str]) -> list[PairLine]:
        """The lines as typed, blank ones among them."""
        return [
            PairLine(
                **{
                    field: (posted.get(f"{field}-{n}") or "").strip()
                    for field in ("female", "male", "tank", "since", "clutches_before")
                },
                species_key=posted.get(f"species-{n}") or self.species_key.data or "",
            )
            for n in range(LINES_OFFERED)
        ]

    def refuse(self, refused: RuleBroken) -> None:
        """Put each sentence in its line, and how many lines there are on top."""
        super().refuse(refused)
        if isinstance(refused, LinesRefused):
            self.wrong = {n: dict(said) for n, said in refused.by_line.items()}
