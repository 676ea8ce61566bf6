"""What is answered on Today and tonight: mostly a single tap."""

from wtforms import HiddenField, SelectField
from wtforms.validators import Optional

from hatchery_app.domain.clutch import ClutchOutcome
from hatchery_app.web.entry_form import EntryForm

GONE = (ClutchOutcome.EATEN, ClutchOutcome.DROPPED, ClutchOutcome.FUNGUS, ClutchOutcome.GIVEN_UP)


class TapForm(EntryForm):
    """One tap that says all."""


class UndoForm(EntryForm):
    """The last answer taken back."""

    fact_id = HiddenField(validators=[Optional()])


class PulledForm(EntryForm):
    """The tile was pulled: into which tank."""

    tank_id = SelectField("Into", coerce=int, validate_choice=False)


class GoneForm(EntryForm):
    """No eggs are left: how."""

    outcome = SelectField("How", choices=[word.value for word in GONE])
