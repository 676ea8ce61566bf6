"""What is said of counting itself: a trial with a known number, a picture to count on."""

from flask_wtf.file import FileField
from wtforms import RadioField, StringField
from wtforms.validators import InputRequired, Length, Optional

from hatchery_app.domain.stock_book.worked_count import Sampled, Seen
from hatchery_app.domain.typed_amounts import parse_volume
from hatchery_app.domain.units import MILLILITRE
from hatchery_app.web.count_fields import SEEN
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields


class TrialForm(EntryForm, WhenFields):
    """A known number put into water, and what samples of it held."""

    sampled = RadioField(
        "What was put in", choices={one.value: one.value for one in Sampled},
        default=Sampled.LARVAE.value,
        validators=[InputRequired("Say what was put in.")],
    )  # fmt: skip
    known_number = StringField(
        "How many, counted one by one", validators=[Optional(), Length(max=12)]
    )
    counts = StringField(
        "Then found in each sample", description="five or more: 9, 7, 10, 8, 8",
        validators=[Optional(), Length(max=200)],
    )  # fmt: skip
    aliquot_ml = StringField("One sample", validators=[Optional(), Length(max=40)])
    total_ml = StringField(
        "Out of how much water", description="2 L, or 2000 mL",
        validators=[Optional(), Length(max=40)],
    )  # fmt: skip

    def read_ml(self, name: str) -> float:
        """A volume in mL. Raises RuleBroken beside its field, or Asked."""
        typed = getattr(self, name).data or ""
        amount = parse_volume(typed, unit_default=MILLILITRE, field=name, answers=self.answers)
        return float(amount.canonical * 1000)


class PictureForm(EntryForm):
    """A picture, as the camera made it."""

    picture = FileField("Picture")


class AgainForm(EntryForm):
    """The number of a count that stands, anew by the marks on its picture."""

    photo_seen = RadioField(
        "Are they all in the picture", choices=SEEN, default=Seen.ALL.value,
        validators=[Optional()],
    )  # fmt: skip
