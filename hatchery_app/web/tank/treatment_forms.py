"""The forms of a treatment: what was given in the keeper's own words, and when it was over."""

from flask import g
from wtforms import IntegerField, RadioField, StringField
from wtforms.validators import InputRequired, Length, Optional

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import When
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields, read_day, read_moment

GOES_ON, ONCE, WAS_OVER = "goes_on", "once", "was_over"
TANK, SYSTEM = "tank", "system"


class TreatmentForm(EntryForm, WhenFields):
    """What was given, how much, why, how often again, and what is barred meanwhile."""

    what = StringField(
        "What was used", description="as you call it, or as the label does",
        validators=[InputRequired("Say what was used, as you call it."), Length(max=120)],
    )  # fmt: skip
    amount = StringField(
        "How much", description="as you measured it; nothing is worked out from it",
        validators=[Optional(), Length(max=80)],
    )
    reason = StringField("Why", description="what you saw, in your own words",
                         validators=[Optional(), Length(max=200)])  # fmt: skip
    whose = RadioField("Given to", choices={TANK: "this tank"}, default=TANK,
                       validators=[Optional()])  # fmt: skip
    until = RadioField(
        "And since then",
        choices={GOES_ON: "it goes on", ONCE: "given once, over at once", WAS_OVER: "it is over"},
        default=GOES_ON, validators=[Optional()],
    )  # fmt: skip
    every_days = IntegerField("Again every so many days", description="leave empty if it is not",
                              validators=[Optional()])  # fmt: skip
    repeats = IntegerField("How many times more", validators=[Optional()])
    over_on = StringField("Over on", validators=[Optional()])
    over_time = StringField("Time", validators=[Optional()])
    barred = StringField(
        "What is barred meanwhile",
        description="carbon, live food, new fish, selling: whoever works here next reads it",
        validators=[Optional(), Length(max=200)],
    )

    def read_over(self, began: When) -> When | None:
        """When it was over; None while it goes on. Raises RuleBroken beside the day or the time."""
        if self.until.data == ONCE:
            return began
        if self.until.data != WAS_OVER:
            return None
        day = read_day(self.over_on.data, "over_on")
        if day is None:
            raise RuleBroken("Say on which day it was over.", field="over_on")
        over = read_moment(day, self.over_time.data, ("over_on", "over_time"), self.answers)
        if over.latest < began.earliest:
            raise RuleBroken("It cannot be over before it began.", field="over_on")
        return over

    def repeats_said(self) -> tuple[int | None, int | None]:
        """Every how many days, and how many times more; both None where it is given once."""
        if self.until.data in (ONCE, WAS_OVER):
            return None, None
        return self.every_days.data, self.repeats.data


class OverForm(EntryForm, WhenFields):
    """A treatment is over."""

    how = StringField("How", description="water changed, carbon put back; if there is more to say",
                      validators=[Optional(), Length(max=200)])  # fmt: skip


def offer_system(form: TreatmentForm, label: str, system: str) -> None:
    """Offer the whole water where the tank shares it; what goes into one reaches all."""
    if system:
        form.whose.choices = {
            TANK: f"{label} alone, cut off from system {system}",
            SYSTEM: f"all tanks of system {system}",
        }  # fmt: skip
        if not form.whose.raw_data:
            form.whose.data = SYSTEM
    if not form.over_on.data:
        form.over_on.data = g.room.room_time.local(g.now).date().isoformat()
