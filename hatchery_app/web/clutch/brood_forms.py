"""What can be said of a brood that a parent carries: seen in him, out, lost."""

from wtforms import BooleanField, RadioField, SelectField, StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.web.entry_form import EntryForm, reads
from hatchery_app.web.when_fields import WhenFields

TAKEN, FIRST_SEEN = "taken", "first seen"


class HoldingForm(EntryForm, WhenFields):
    """A father was seen with a brood; who laid it may not be known."""

    carrier_id = SelectField("Who", coerce=int, validate_choice=False)
    start = RadioField(
        "What was seen",
        choices={TAKEN: "he took it up then",
                 FIRST_SEEN: "first seen with it; when he took it up is not known"},
        default=TAKEN,
    )  # fmt: skip
    tank_id = SelectField("Where", coerce=int, validate_choice=False)

    @property
    def start_known(self) -> bool:
        """Whether it was seen when he took it up."""
        return str(self.start.data) == TAKEN


class ReleaseForm(EntryForm, WhenFields):
    """Young came out: a part of the brood, or the last of it."""

    number = StringField(
        "Young", description="of this time alone: 6, about 20, >30 or ?",
        validators=[Optional(), Length(max=60), reads(lambda text: parse(text, "number"))],
    )  # fmt: skip
    tank_id = SelectField("Put into", coerce=int, validate_choice=False)
    all_out = BooleanField("He carries nothing more")

    def read_number(self) -> HowMany:
        """The number as said; unknown where nothing was."""
        return parse(self.number.data or "", "number")


class BroodEndForm(EntryForm, WhenFields):
    """He was seen without it: all out, or lost."""
