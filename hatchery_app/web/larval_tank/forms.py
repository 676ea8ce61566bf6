"""What is said of larvae: counted, gone, seen, settled, moved, as keepers write it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from wtforms import (
    BooleanField,
    HiddenField,
    RadioField,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.validators import DataRequired, Length, Optional
from wtforms.widgets import CheckboxInput, ListWidget

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import parse
from hatchery_app.domain.larval_tank.larval_protocol import FOODS_IN_WATER
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.stock_book.worked_count import CountedBy, WorkedCount, read_samples
from hatchery_app.services.larval_tank.larval_tank import Part
from hatchery_app.services.stock_book.counts import MARKS
from hatchery_app.web.count_fields import CountFields
from hatchery_app.web.entry_form import EntryForm, reads
from hatchery_app.web.number_fields import SomeOrAll
from hatchery_app.web.when_fields import WhenFields, read_day

TANKS = 4  # a clutch over more tanks is put in twice
FOODS = {food: food for food in FOODS_IN_WATER}
DOORS = (Door.DIED, Door.MISSING, Door.EATEN, Door.PUT_DOWN, Door.SAMPLED, Door.GIVEN_AWAY)


def _number(label: str, field: str, description: str = "") -> StringField:
    return StringField(
        label, description=description,
        validators=[Optional(), Length(max=60), reads(lambda text: parse(text, field))],
    )  # fmt: skip


def _short(label: str, description: str = "", default: str = "") -> StringField:
    return StringField(
        label, description=description, default=default, validators=[Optional(), Length(max=200)]
    )


def _tank(label: str) -> SelectField:
    return SelectField(label, coerce=int, default=0, validators=[Optional()], validate_choice=False)


class TanksFields:
    """Mix into an EntryForm: up to four tanks, how many went to each, and what to note of them."""

    tank_1, tank_2, tank_3, tank_4 = (_tank(f"Tank {n}" if n > 1 else "Tank") for n in range(1, 5))
    number_1, number_2, number_3, number_4 = (
        _number("How many", f"number_{n}", "143, about 80, >300 or ?") for n in range(1, 5)
    )
    note_1, note_2, note_3, note_4 = (
        _short("How they were handled", "poured, under water, by the jug …") for _ in range(1, 5)
    )

    @property
    def rows(self) -> list[tuple[Any, Any, Any]]:
        """The three fields of each tank."""
        return [
            tuple(getattr(self, f"{name}_{n}") for name in ("tank", "number", "note"))
            for n in range(1, TANKS + 1)
        ]

    def offer_tanks(self, tanks: Mapping[str, str]) -> None:
        """Fill the lists of tanks, in walking order."""
        for tank, _number_field, _note in self.rows:
            tank.choices = {"0": "–", **tanks}

    def read_parts(self, *, empty_is_all: bool = False) -> list[Part]:
        """The tanks that were named. An empty number is unknown, or all where only one is."""
        named = [row for row in self.rows if row[0].data]
        parts = []
        for tank, number, note in named:
            said = (number.data or "").strip()
            everything = empty_is_all and not said and len(named) == 1
            many = None if everything else parse(said, number.name)
            parts.append(Part(tank.data, many, (note.data or "").strip()))
        return parts


class PutForm(CountFields, EntryForm, WhenFields, TanksFields):
    """Larvae of a hatch go into tanks; those of the first by the way they were counted."""

    hatch_id = SelectField("Hatched", coerce=int, default=0, validate_choice=False)
    name = _short("Name of the batch", "may stay empty")
    number = None  # type: ignore[assignment]  # the first tank's own field holds it

    def read_parts(self, *, empty_is_all: bool = False) -> list[Part]:
        """The tanks that were named, the first with its samples or look worked out."""
        parts = super().read_parts(empty_is_all=empty_is_all)
        if (self.how.data or CountedBy.ONE_BY_ONE) == CountedBy.ONE_BY_ONE:
            return parts
        if not self.tank_1.data:
            raise RuleBroken("Say which tank it is that was counted.", field="tank_1")
        return [replace(parts[0], number=self.read_number()), *parts[1:]]

    def _as_written(self) -> WorkedCount:
        written = (self.number_1.data or "").strip()
        return WorkedCount(CountedBy.ONE_BY_ONE, parse(written, "number_1"), ())


class HereBeforeForm(EntryForm, WhenFields):
    """A batch that was there before the records began."""

    species_key = SelectField("Species", validate_choice=False)
    tank_1 = _tank("Tank")
    number = _number("How many now", "number", "about 60, >300 or ? — may stay empty")
    first_on = StringField("Hatched the night of", validators=[Optional()])
    last_on = StringField("to the night of", validators=[Optional()])
    name = _short("Name of the batch", "may stay empty")

    def read_nights(self) -> tuple[Any, Any] | None:
        """First and last hatch evening; None where it is not known."""
        first = read_day(self.first_on.data, "first_on")
        last = read_day(self.last_on.data, "last_on") or first
        if first is None or last is None:
            return None
        if last < first:
            raise RuleBroken("The last night is before the first.", field="last_on")
        return first, last


class MoveForm(EntryForm, WhenFields, TanksFields):
    """A batch, or parts of it, to other tanks."""


class CountForm(CountFields, EntryForm, WhenFields):
    """How many are there, by the way they were counted."""

    bodies = _short("Bodies found since the last count", "asked about where fewer are left")

    def read_bodies(self) -> int | None:
        """Bodies found; None where nothing was said."""
        return read_whole(self.bodies.data, "bodies")


class LengthsForm(EntryForm, WhenFields):
    """Total lengths of some larvae."""

    lengths = TextAreaField(
        "Total lengths, one larva after another",
        description="5.2 5.8 5.5 — ten or more say most",
        validators=[DataRequired(), Length(max=4000)],
    )  # fmt: skip
    by_eye = BooleanField("By eye")


class LeftForm(SomeOrAll, EntryForm, WhenFields):
    """Larvae are gone, by a named door."""

    door = RadioField(
        "How", choices={door.value: door.value for door in DOORS}, default=Door.DIED.value,
        validators=[Optional()],
    )  # fmt: skip
    number = _number("How many", "number", "3, about 20 or a few")
    everyone = BooleanField("All that are left")
    reason = _short("Why", "what is thought or seen")


class FoundForm(EntryForm, WhenFields):
    """More are there than came in: a new release, or one that turned up."""

    number = _number("How many", "number")
    reason = _short("Where from")


class PreyForm(EntryForm, WhenFields):
    """How thick a food stands: a look in a word, or samples counted."""

    food = SelectField("Food", choices=FOODS, validate_choice=False)
    look = RadioField(
        "A look", choices={look.value: look.value for look in Look}, validators=[Optional()]
    )
    counts = _short("Animals in each sample", "8, 11, 9")
    sample_ml = _short("One sample, mL", default="1")
    topped_up_to = _short("Topped up to, per mL", "if it was done in the same go")

    def read_look(self) -> Look | None:
        """The look in a word, None where samples were counted."""
        said = self.look.data or ""
        return Look(said) if said in {look.value for look in Look} else None


class SettledForm(EntryForm, WhenFields):
    """Who has settled, who still swims."""

    settled = _short("Settled")
    swimming = _short("Still swimming", "empty if they were not counted")
    how = RadioField(
        "How", choices={"counted": "Counted", "eye": "By eye"}, default="counted",
        validators=[Optional()],
    )  # fmt: skip

    def read_settled(self) -> int:
        """How many had settled."""
        number = read_whole(self.settled.data, "settled")
        if number is None:
            raise RuleBroken("Say how many had settled, 0 if none.", field="settled")
        return number


class MarkForm(EntryForm, WhenFields):
    """Something seen or done for the first time."""

    mark = RadioField("What", choices={mark: mark for mark in MARKS}, validators=[Optional()])


class GrowOutForm(SomeOrAll, EntryForm, WhenFields):
    """Settled fish go on to grow-out."""

    tank_1 = _tank("Into tank")
    number = _number("How many", "number")
    everyone = BooleanField("All of them have settled and go")
    name = _short("Name of the cohort", "may stay empty")


class TogetherForm(EntryForm, WhenFields):
    """Batches are put together."""

    batch = SelectMultipleField(
        "Put together with", coerce=int, validators=[Optional()], validate_choice=False,
        widget=ListWidget(prefix_label=False), option_widget=CheckboxInput(),
    )  # fmt: skip
    tank_1 = _tank("In tank")
    name = _short("Name of the batch", "may stay empty")


class OtherClutchForm(EntryForm, WhenFields):
    """The fish are of another clutch than was thought."""

    hatch_id = SelectField("They are of", coerce=int, default=0, validate_choice=False)
    changes: tuple[str, ...] = ()

    def refuse(self, refused: RuleBroken) -> None:
        """Keep what would change with it, so that the page can list it."""
        self.changes = getattr(refused, "lines", ())
        super().refuse(refused)


class ConcentrateForm(EntryForm):
    """How thick a food stands that the tanks are topped up from."""

    food = SelectField("Food", choices=FOODS, validate_choice=False)
    per_ml = _short("Per mL", "animals, or cells of algae: 2000, 1.5e9")


class ReplanForm(EntryForm):
    """One tap, for the species file as it was when its changes were shown."""

    mark = HiddenField()


def read_counts(text: str | None, field: str) -> list[int]:
    """Whole numbers with spaces or commas between. Raises RuleBroken beside the field."""
    return list(read_samples(text or "", field))


def read_whole(text: str | None, field: str) -> int | None:
    """A whole number, None where nothing was typed. Raises RuleBroken beside the field."""
    written = (text or "").strip()
    if not written:
        return None
    if not (written.isascii() and written.isdigit() and len(written) < 8):
        raise RuleBroken(f"“{written}” is not a number of fish; write it like 12.", field=field)
    return int(written)
