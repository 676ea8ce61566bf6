"""What is answered on Today and tonight: mostly a single tap."""

from wtforms import IntegerField, SelectMultipleField, StringField
from wtforms.validators import AnyOf, InputRequired, Length, Optional

from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.today.chores import Rhythm
from hatchery_app.domain.today.schedule import Outcome, Round, Turn
from hatchery_app.web.entry_form import EntryForm

GONE = (ClutchOutcome.EATEN, ClutchOutcome.DROPPED, ClutchOutcome.FUNGUS, ClutchOutcome.GIVEN_UP)
EVERY = ("once", "days", "weekdays", "monthly")


class TapForm(EntryForm):
    """One tap that says all."""


class UndoForm(EntryForm):
    """The last answer taken back."""

    fact_id = IntegerField(validators=[InputRequired("Say which answer is taken back.")])
    all_of_tap = StringField(validators=[Optional(), Length(max=3)])


class PulledForm(EntryForm):
    """The tile was pulled: into which tank."""

    tank_id = IntegerField(validators=[InputRequired("Say into which tank the tile goes.")])


class GoneForm(EntryForm):
    """No eggs are left: how."""

    outcome = StringField(
        validators=[AnyOf([word.value for word in GONE], "Say how the eggs went.")]
    )


class DoneForm(EntryForm):
    """A line that is done, or several: their names with spaces between."""

    task = StringField(validators=[InputRequired("Say which line is done.")])

    def tasks(self) -> tuple[str, ...]:
        """The names of the lines."""
        return tuple((self.task.data or "").split())


class PutOffForm(DoneForm):
    """Lines that wait together for a later round."""

    until = StringField(validators=[InputRequired("Say until which round."), Length(max=40)])

    def turn(self) -> Turn:
        """The round they wait for. Raises RuleBroken."""
        return Turn.parse(self.until.data or "")


class LetGoForm(EntryForm):
    """The rest of yesterday, let go."""


class OtherwiseForm(EntryForm):
    """Done differently, put off until a turn, or skipped with a reason."""

    task = StringField(validators=[InputRequired("Say which line it is.")])
    answer = StringField(validators=[AnyOf([word.value for word in Outcome], "Say how.")])
    really = StringField("What was done instead", validators=[Optional(), Length(max=200)])
    reason = StringField("Why it is skipped", validators=[Optional(), Length(max=200)])
    until = StringField(validators=[Optional(), Length(max=40)])

    def outcome(self) -> Outcome:
        """What is answered."""
        return Outcome(self.answer.data or "")

    def turn(self) -> Turn | None:
        """Until which round it is put off, None where nothing was said."""
        return Turn.parse(self.until.data) if self.until.data else None


class ChoreForm(EntryForm):
    """A chore of the keeper's own: what, how often, in which round, where, from when."""

    what = StringField(
        "What is to be done", description="mix salt, restart a vessel, check a probe",
        validators=[InputRequired("Say what the chore is."), Length(max=120)],
    )  # fmt: skip
    every = StringField("How often", default="days", validators=[AnyOf(EVERY, "Say how often.")])
    every_days = IntegerField("Every so many days", default=7, validators=[Optional()])
    weekdays = SelectMultipleField("On these days", coerce=int, choices=[], validate_choice=False)
    day_of_month = IntegerField("On this day of each month", validators=[Optional()])
    in_round = StringField(
        "Round", default=Round.MORNING.value,
        validators=[AnyOf([each.value for each in Round], "Say in which round.")],
    )  # fmt: skip
    tank_id = IntegerField("Where", validators=[Optional()])
    first_on = StringField("On, or from, the day", validators=[Optional(), Length(max=10)])

    def rhythm(self) -> Rhythm:
        """How often, in one of the four ways. Raises RuleBroken beside the field it is about."""
        if self.every.data == "once":
            return Rhythm(once=True)
        if self.every.data == "weekdays":
            return Rhythm(weekdays=tuple(sorted(set(self.weekdays.data or ()))))
        if self.every.data == "monthly":
            return Rhythm(day_of_month=self.day_of_month.data or 0)
        return Rhythm(every_days=self.every_days.data or 0)
