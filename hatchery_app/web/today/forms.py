"""What is answered on Today and tonight: mostly a single tap."""

from wtforms import IntegerField, StringField
from wtforms.validators import AnyOf, InputRequired

from hatchery_app.domain.clutch import ClutchOutcome
from hatchery_app.web.entry_form import EntryForm

GONE = (ClutchOutcome.EATEN, ClutchOutcome.DROPPED, ClutchOutcome.FUNGUS, ClutchOutcome.GIVEN_UP)


class TapForm(EntryForm):
    """One tap that says all."""


class UndoForm(EntryForm):
    """The last answer taken back."""

    fact_id = IntegerField(validators=[InputRequired("Say which answer is taken back.")])


class PulledForm(EntryForm):
    """The tile was pulled: into which tank."""

    tank_id = IntegerField(validators=[InputRequired("Say into which tank the tile goes.")])


class GoneForm(EntryForm):
    """No eggs are left: how."""

    outcome = StringField(
        validators=[AnyOf([word.value for word in GONE], "Say how the eggs went.")]
    )
