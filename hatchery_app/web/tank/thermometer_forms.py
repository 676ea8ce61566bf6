"""The form of the thermometers: one field a tank, in the order of the walk."""

from collections.abc import Sequence

from wtforms import StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.tank.thermometer import Thermometer
from hatchery_app.services.tank.thermometers import field_of
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields


class ThermometersForm(EntryForm, WhenFields):
    """What the thermometers read; those not read stay empty."""

    tanks: Sequence[Thermometer] = ()

    def read(self) -> dict[int, str]:
        """What was typed, by tank."""
        return {one.tank_id: self[field_of(one.tank_id)].data or "" for one in self.tanks}


def form_for(tanks: Sequence[Thermometer]) -> ThermometersForm:
    """The form with a field for each of these tanks."""
    fields = {
        field_of(one.tank_id): StringField(one.label, validators=[Optional(), Length(max=20)])
        for one in tanks
    }
    kind = type("ThermometersForm", (ThermometersForm,), {"tanks": tuple(tanks), **fields})
    form: ThermometersForm = kind()
    return form
