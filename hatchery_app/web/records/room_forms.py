"""The forms of the room page: what the room is, its lamps, who keeps it, a new password."""

from typing import Any
from zoneinfo import available_timezones

from wtforms import PasswordField, RadioField, SelectField, StringField
from wtforms.validators import EqualTo, InputRequired, Length

from hatchery_app.domain.when import Lights
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.records.forms import SHORTEST_PASSWORD
from hatchery_app.web.when_fields import WhenFields

LONG_ENOUGH = Length(
    min=SHORTEST_PASSWORD, max=200, message=f"At least {SHORTEST_PASSWORD} characters, please."
)
AGAIN = EqualTo("password", "The two passwords differ.")


class RoomForm(WhenFields, EntryForm):
    """What the room is called, clocked and measured in, from when on."""

    name = StringField("Name of the room", validators=[InputRequired("The room needs a name.")])
    zone_name = SelectField("Time zone of the room", choices={})
    temperature_unit = RadioField("Temperatures in", choices={"C": "°C", "F": "°F"})
    volume_unit = RadioField("Volumes in", choices={"L": "litres", "gal": "gallons"})
    gallon = RadioField(
        "Which gallon",
        choices={"us": "US (3.79 L)", "imperial": "imperial (4.55 L)", "": "not said yet"},
    )

    def offer_zones(self) -> None:
        """Fill the list of zones."""
        zones = sorted(zone for zone in available_timezones() if "/" in zone or zone == "UTC")
        self.zone_name.choices = {zone: zone.replace("_", " ") for zone in zones}

    def fill(self, room: Any) -> None:
        """Show what holds now."""
        self.name.data, self.zone_name.data = room.name, room.room_time.zone_name
        self.temperature_unit.data, self.volume_unit.data = room.temperature_unit, room.volume_unit
        self.gallon.data = room.gallon


class LampsForm(WhenFields, EntryForm):
    """When the lamps of the room or of a rack are lit, from when on."""

    lights_on = StringField("Lights on", validators=[InputRequired("Say when they go on.")])
    lights_off = StringField("Lights off", validators=[InputRequired("Say when they go off.")])
    rack = StringField("Rack", description="Empty: all of the room that has no hours of its own.")

    def fill(self, lights: Lights) -> None:
        """Begin with the room's hours."""
        self.lights_on.data, self.lights_off.data = f"{lights.on:%H:%M}", f"{lights.off:%H:%M}"


class KeeperForm(EntryForm):
    """An account for somebody who works in the room."""

    keeper_name = StringField("Name", validators=[InputRequired("Say who it is.")])
    role = RadioField(
        "They are",
        choices={"keeper": "a keeper of the room", "helper": "a helper, now and then"},
        default="keeper",
    )
    password = PasswordField(
        "Password", validators=[InputRequired("They need a password."), LONG_ENOUGH]
    )
    again = PasswordField("Password again", validators=[AGAIN])


class PasswordForm(EntryForm):
    """One's own password, changed; every other device is signed out by it."""

    present = PasswordField("Present password", validators=[InputRequired("The one you have now.")])
    password = PasswordField(
        "New password", validators=[InputRequired("The new one is missing."), LONG_ENOUGH]
    )
    again = PasswordField("New password again", validators=[AGAIN])
