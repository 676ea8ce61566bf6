"""What can be said of a clutch: a look, a move, a hatch, its end."""

from wtforms import BooleanField, RadioField, SelectField, StringField
from wtforms.validators import InputRequired, Length, Optional

from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome, EggMove, Sign
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.worked_count import CountedBy, WorkedCount
from hatchery_app.web.count_fields import CountFields
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields

NOT_SAID = WorkedCount(CountedBy.LOOK, HowMany.unknown(), ())  # most looks say no number

# One tap says kind and sign together: (what, its words, kind, sign, seen)
LOOKS: tuple[tuple[str, str, CheckKind, Sign | None, bool], ...] = (
    ("well", "looks well", CheckKind.LOOKS_WELL, None, True),
    ("dark", "eggs dark", CheckKind.SIGN, Sign.DARK, True),
    ("eyes", "eyes seen", CheckKind.SIGN, Sign.EYES, True),
    ("no-eyes", "no eyes yet", CheckKind.SIGN, Sign.EYES, False),
    ("silver", "eyes silver", CheckKind.SIGN, Sign.SILVER, True),
    ("no-silver", "not silver yet", CheckKind.SIGN, Sign.SILVER, False),
    ("colour", "colour (see note)", CheckKind.SIGN, Sign.COLOUR, True),
    ("eggs", "eggs left", CheckKind.EGGS, None, True),
    ("losses", "eggs lost", CheckKind.LOSSES, None, True),
    ("fungus", "fungus", CheckKind.FUNGUS, None, True),
    ("watched", "watched, none hatched", CheckKind.WATCHED_NONE, None, True),
    ("covered", "covered dark", CheckKind.COVERED, None, True),
    ("lamp", "a lamp was on all night", CheckKind.LAMP_ON, None, True),
)


class CheckForm(CountFields, EntryForm, WhenFields):
    """One look at the eggs."""

    what = RadioField(
        "What was seen", choices={what: words for what, words, *_ in LOOKS},
        validators=[InputRequired("Say what was seen.")],
    )  # fmt: skip

    def read_look(self) -> tuple[CheckKind, Sign | None, bool]:
        """Kind, sign and whether it was there."""
        return next((kind, sign, seen) for what, _, kind, sign, seen in LOOKS
                    if what == self.what.data)  # fmt: skip

    def _nothing_written(self) -> WorkedCount:
        return NOT_SAID


class MoveForm(EntryForm, WhenFields):
    """The eggs went to another tank."""

    why = RadioField(
        "What was done",
        choices={EggMove.PULLED.value: "tile pulled", EggMove.GIVEN.value: "given to a pair",
                 EggMove.MOVED.value: "moved, otherwise"},
        validators=[InputRequired("Say what was done with the eggs.")],
    )  # fmt: skip
    tank_id = SelectField("To which tank", coerce=int, default=0, validate_choice=False)
    tended_by_pair_id = SelectField("Which pair tends them", coerce=int, validate_choice=False)


class HatchForm(CountFields, EntryForm, WhenFields):
    """A part of the clutch hatched, or the last of it."""

    how_much = RadioField(
        "How much of the clutch",
        choices={"all": "all of it", "a part": "a part, eggs are left",
                 "about a third": "about a third", "about half": "about half",
                 "a few": "a few"},
        default="a part",
    )  # fmt: skip
    hour_known = BooleanField("The hour is when it began", default=True)
    after_handling = BooleanField("After the tile was handled")

    def _nothing_written(self) -> WorkedCount:
        return NOT_SAID


class EndForm(EntryForm, WhenFields):
    """No eggs are left."""

    outcome = RadioField(
        "How it ended",
        choices={each.value: each.value for each in ClutchOutcome if each.is_of_eggs},
        validators=[InputRequired("Say how it ended.")],
    )  # fmt: skip
    reason = StringField("Reason, if known", validators=[Optional(), Length(max=200)])
