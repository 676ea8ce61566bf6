"""What can be said of a sale: held, released, sold, arrived."""

from datetime import date

from wtforms import StringField
from wtforms.validators import Optional

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.web.cohort.forms import number_field, pick_field, whole, words_field
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields, read_day

WHOM = "a name or initials; no address is kept"


def _how_many(text: str | None) -> int:
    number = whole(text, "number")
    if number is None:
        raise RuleBroken("Say how many.", field="number")
    return number


class HoldForm(EntryForm, WhenFields):
    """Fish are promised to somebody."""

    number = number_field("How many", description="no more than are free")
    for_whom = words_field("For whom", WHOM, 120)
    held_until = StringField(  # until_on is the later of two looks
        "Until, the last day", description="may stay empty", validators=[Optional()]
    )

    def read_number(self) -> int:
        """How many are held."""
        return _how_many(self.number.data)

    def read_until(self) -> date | None:
        """The last day of the hold."""
        return read_day(self.held_until.data, "held_until")


class ReleaseForm(EntryForm, WhenFields):
    """Held fish are free again."""

    number = number_field("How many", description="all of the hold if empty")


class SellForm(EntryForm, WhenFields):
    """Fish are sold, out of a hold or of those free."""

    out_of = pick_field("Out of")
    number = number_field("How many", description="out of those free, or of the hold")
    for_whom = words_field("To whom", WHOM, 120)

    def read_number(self) -> int:
        """How many are sold."""
        return _how_many(self.number.data)


class ArrivalForm(EntryForm, WhenFields):
    """What the buyer found."""

    dead = number_field("Dead on arrival", "dead", "0 if all arrived alive")
    replaced = number_field("Sent again from the cohort", "replaced", "none if empty")

    def read_dead(self) -> int:
        """How many arrived dead."""
        dead = whole(self.dead.data, "dead")
        if dead is None:
            raise RuleBroken("Say how many; 0 if all arrived alive.", field="dead")
        return dead
