"""What can be said of a laying; all of it can be left as it stands."""

from datetime import datetime, timedelta

from flask import g
from wtforms import HiddenField, RadioField, SelectField, StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.domain.spawn.day_count import QUESTION, laid_by_day_count
from hatchery_app.domain.stock_book.worked_count import worked_from_squares
from hatchery_app.domain.when import RoomTime, When, happened
from hatchery_app.web.entry_form import EntryForm, reads
from hatchery_app.web.when_fields import AT, BETWEEN, NOW, WhenFields, read_day

DAY_COUNT, FOUND = "day_count", "found"
WRITTEN, SQUARES = "written", "squares"
LAST_LOOK = "Say when you last looked and saw none: take “Between two looks”."
LONGEST = timedelta(days=3)  # eggs that stood unseen for longer are told by two looks
LAID = {
    NOW: "Just now", FOUND: "Found now", AT: "At a time", BETWEEN: "Between two looks",
    DAY_COUNT: "By the day they are in",
}  # fmt: skip


class EggsFields:
    """Mix into an EntryForm: an egg number with the way it was got."""

    eggs_how = RadioField(
        "How the eggs were numbered",
        choices={WRITTEN: "As written", SQUARES: "Squares and area"},
        default=WRITTEN,
        validators=[Optional()],
    )
    eggs = StringField(
        "Eggs", description="450, about 500, >300, 400-500 or ? — may stay empty",
        validators=[Optional(), Length(max=60), reads(lambda text: parse(text, "eggs"))],
    )  # fmt: skip
    squares = StringField(
        "Eggs in each 1 cm² square", description="three or more squares: 38, 41, 35",
        validators=[Optional(), Length(max=120)],
    )  # fmt: skip
    patch = StringField(
        "Patch, length × width in cm", description="an oval: 5.2 x 4.8",
        validators=[Optional(), Length(max=40)],
    )  # fmt: skip

    def read_eggs(self) -> HowMany:
        """The number as said. Raises RuleBroken beside the field it is about."""
        if self.eggs_how.data == SQUARES:
            length_cm, width_cm = _two_lengths(self.patch.data or "")
            counts = _counts(self.squares.data or "")
            return worked_from_squares(
                counts, length_cm=length_cm, width_cm=width_cm, square_cm2=1
            ).number
        return parse(self.eggs.data or "", "eggs")


class LaidFields(WhenFields):
    """When they were laid: as every moment is said, or by the day the eggs are in."""

    when_how = RadioField(
        "When",
        choices=LAID,
        default=NOW,
        validators=[Optional()],
    )  # fmt: skip
    day_number = StringField(
        "Day of the eggs", description="10 for the tenth day",
        validators=[Optional(), Length(max=8)],
    )  # fmt: skip
    day_on = StringField("On", validators=[Optional()])

    def read_when(self, *, answers: dict[str, str] | None = None) -> When:
        """The When that was said. Raises RuleBroken or Asked beside the field it is about."""
        if not self.when_how.raw_data:
            raise RuleBroken(
                "Say when: laid just now, found now, or at another time.", field="when_how"
            )
        if self.when_how.data == FOUND:
            return self._found()
        if self.when_how.data != DAY_COUNT:
            return super().read_when(answers=answers)
        answered = answers if answers is not None else self.answers  # type: ignore[attr-defined]
        room_time: RoomTime = g.room.room_time
        written = (self.day_number.data or "").strip().removeprefix("day").strip().rstrip(".")
        if not (written.isascii() and written.isdigit()):
            raise RuleBroken(
                "Say the day as a number: 10 for the tenth day.", field="day_number"
            )
        on = read_day(self.day_on.data, "day_on") or room_time.local(g.now).date()
        when = laid_by_day_count(int(written), on, room_time, answered.get(QUESTION))
        if self.from_memory.data:
            when = When(when.earliest, when.latest, when.said, True)
        return happened(when, g.now, room_time, answers=answered, field="day_on")


    def _found(self) -> When:
        """Laid between the last look and now. Raises RuleBroken for a look that is none."""
        written = self["last_looked"].data if "last_looked" in self else ""  # type: ignore[index, operator]
        try:
            looked = datetime.fromisoformat(written or "")
        except ValueError as reason:
            raise RuleBroken(LAST_LOOK, field="when_how") from reason
        if looked.tzinfo is None or not g.now - LONGEST <= looked <= g.now:
            raise RuleBroken(LAST_LOOK, field="when_how")
        return When.between(looked, g.now, from_memory=bool(self.from_memory.data))


class SpawnForm(EntryForm, LaidFields, EggsFields):
    """A laying of one pair. `last_looked`: when the nest was last looked at, for eggs found now."""

    last_looked = HiddenField()
    surface = StringField(
        "On what", description="tile, pot, rock …", validators=[Optional(), Length(max=80)]
    )
    tank_id = SelectField("Tank", coerce=int, validators=[Optional()], validate_choice=False)


class OtherSpawnForm(SpawnForm):
    """A laying whose parents are known in part or not at all."""

    species_key = SelectField("Species", validate_choice=False)
    parents_said = SelectField(
        "Parents",
        choices={"unknown": "not known", "wild": "wild", "bought": "bought as eggs"},
        description="Two fish that are known lay as a pair: choose the pair instead.",
    )
    claim = StringField("What the seller said", validators=[Optional(), Length(max=200)])


def _counts(text: str) -> list[int]:
    parts = text.replace(";", " ").replace(",", " ").split()
    if not parts or not all(part.isascii() and part.isdigit() for part in parts):
        raise RuleBroken(
            "Write the eggs of each square, with spaces or commas between: 38, 41, 35.",
            field="squares",
        )
    return [int(part) for part in parts]


def _two_lengths(text: str) -> tuple[float, float]:
    parts = text.lower().replace("×", "x").replace("cm", "").replace(",", ".").split("x")
    try:
        length_cm, width_cm = (float(part) for part in parts)
    except ValueError as reason:
        raise RuleBroken(
            "Write the patch as length x width in cm: 5.2 x 4.8.", field="patch"
        ) from reason
    if not (0 < length_cm <= 100 and 0 < width_cm <= 100):
        raise RuleBroken("A patch of eggs is between 0 and 100 cm across.", field="patch")
    return length_cm, width_cm
