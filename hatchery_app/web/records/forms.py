"""The forms at the door: the first page of a new room, and signing in."""

from zoneinfo import available_timezones

from flask_wtf import FlaskForm
from wtforms import Field, PasswordField, RadioField, SelectField, StringField, ValidationError
from wtforms.validators import EqualTo, InputRequired, Length

from hatchery_app.web.entry_form import EntryForm

SHORTEST_PASSWORD = 8


class FirstPageForm(EntryForm):
    """What a new room is, and who owns it."""

    owner_name = StringField("Your name", validators=[InputRequired("Say who you are.")])
    password = PasswordField(
        "Password",
        description="At least 8 characters. It opens the room from the tablet.",
        validators=[
            InputRequired("The room needs a password before a tablet can reach it."),
            Length(
                min=SHORTEST_PASSWORD, max=200,
                message=f"At least {SHORTEST_PASSWORD} characters, please.",
            ),
        ],
    )  # fmt: skip
    again = PasswordField(
        "Password again", validators=[EqualTo("password", "The two passwords differ.")]
    )
    name = StringField("Name of the room", validators=[InputRequired("The room needs a name.")])
    zone_name = SelectField("Time zone of the room", choices={})
    lights_on = StringField("Lights on", default="08:00")
    lights_off = StringField("Lights off", default="20:00")
    temperature_unit = RadioField("Temperatures in", choices={"C": "°C", "F": "°F"},
                                  default="C")  # fmt: skip
    volume_unit = RadioField("Volumes in", choices={"L": "litres", "gal": "gallons"},
                             default="L")  # fmt: skip
    gallon = RadioField(
        "Which gallon", choices={"us": "US (3.79 L)", "imperial": "imperial (4.55 L)"},
        default="us", description="Asked once for the room.",
    )  # fmt: skip

    def offer_zones(self, likely: str) -> None:
        """Fill the list of zones, the machine's own first."""
        zones = sorted(zone for zone in available_timezones() if "/" in zone or zone == "UTC")
        self.zone_name.choices = {zone: zone.replace("_", " ") for zone in zones}
        if not self.zone_name.data or self.zone_name.data == "None":
            self.zone_name.data = likely


def _readable(_form: FlaskForm, field: Field) -> None:
    # A database may refuse what no keyboard writes (a NUL), and no account is named so.
    if not (field.data or "").isprintable():
        raise ValidationError("No keeper is named like that.")


class SignInForm(FlaskForm):
    """Name and password."""

    name = StringField("Name", validators=[InputRequired("Say who you are."), _readable])
    password = PasswordField("Password", validators=[InputRequired("The password is missing.")])

    def __init__(self) -> None:
        super().__init__()
        self.sentence = ""
