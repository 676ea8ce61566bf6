"""The form of the thermometers: one field a tank, in the order of the walk."""

import re
from collections.abc import Collection, Mapping, Sequence

from wtforms import StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.tank.thermometer import Thermometer
from hatchery_app.services.tank.thermometers import FIELD, field_of
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields

A_TANK = re.compile("[0-9]{1,9}")


class ThermometersForm(EntryForm, WhenFields):
    """What the thermometers read; those not read stay empty."""

    tanks: Sequence[Thermometer] = ()
    gone: bool = False

    def read(self) -> dict[int, str]:
        """What was typed, by tank. Raises RuleBroken where one of them stands no more."""
        if self.gone:
            raise RuleBroken(
                "A tank that was read stands no more; the other readings are still here. "
                "Send them again."
            )
        return {one.tank_id: self[field_of(one.tank_id)].data or "" for one in self.tanks}


def tanks_read(typed: Mapping[str, str]) -> frozenset[int]:
    """The tanks that something was typed for, in a page that may be older than their state."""
    asked_for = (name.removeprefix(FIELD) for name, said in typed.items()
                 if name.startswith(FIELD) and said.strip())  # fmt: skip
    return frozenset(int(one) for one in asked_for if A_TANK.fullmatch(one))


def form_for(tanks: Sequence[Thermometer], read: Collection[int] = ()) -> ThermometersForm:
    """The form with a field for each of these tanks; `read` are those typed into."""
    fields = {
        field_of(one.tank_id): StringField(one.label, validators=[Optional(), Length(max=20)])
        for one in tanks
    }
    gone = not set(read) <= {one.tank_id for one in tanks}
    own = {"tanks": tuple(tanks), "gone": gone, **fields}
    form: ThermometersForm = type("ThermometersForm", (ThermometersForm,), own)()
    return form
