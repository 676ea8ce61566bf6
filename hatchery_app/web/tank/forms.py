"""The forms of a tank: entering a row of them, its state, its water, its lamp and heater."""

from wtforms import FileField, RadioField, SelectField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional

from hatchery_app.domain.tank.seawater import Instrument
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.tank.water_reading import UNITS, Quantity
from hatchery_app.services.tank.readings import SalinityTest, Test
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields

ROLES = {role.value: role.value for role in TankRole}
NOT_SAID = ""


class AddForm(EntryForm):
    """One tank or a whole row of them."""

    labels = StringField(
        "Labels",
        description="one, several or rows, with the water each holds: L1–L12 40 L, G1–G4 200 L",
        validators=[InputRequired("Say how the tanks are labelled."), Length(max=2000)],
    )
    volume = StringField(
        "Water in each",
        description="leave it empty where it stands behind the labels; 40 L, 10 gal",
        validators=[Optional(), Length(max=40)],
    )
    role = RadioField("Kept for", choices=ROLES, default=TankRole.LARVAL.value)
    rack = StringField("Rack", description="tanks of one rack share their lamp",
                       validators=[Optional(), Length(max=40)])  # fmt: skip
    system = StringField("System", description="tanks of one system share water and tools",
                         validators=[Optional(), Length(max=40)])  # fmt: skip
    set_point = StringField("Heater set to", validators=[Optional(), Length(max=40)])
    state = RadioField(
        "How they stand",
        choices={NOT_SAID: "as what lives there says"}
        | {s.value: s.value for s in (TankState.READY, TankState.DIRTY, TankState.CLEANING)},
        default=NOT_SAID,
        validators=[Optional()],
    )

    def read_state(self) -> TankState | None:
        """What was said of how they stand; None where nothing was."""
        return TankState(self.state.data) if self.state.data else None


class WalkForm(EntryForm):
    """The order in which the keeper passes the tanks."""

    order = TextAreaField(
        "Labels in the order you pass them",
        description="a row like L1–L12 counts too; tanks left out follow behind",
        validators=[InputRequired("Write down at least one label."), Length(max=8000)],
    )


class StateForm(EntryForm, WhenFields):
    """How a tank stands from then on."""

    state = RadioField(
        "How it stands", choices={s.value: s.value for s in TankState},
        validators=[InputRequired("Say how the tank stands.")],
    )  # fmt: skip
    reason = StringField("Why", description="needed for a bar",
                         validators=[Optional(), Length(max=200)])  # fmt: skip


class TemperatureForm(EntryForm, WhenFields):
    """One temperature."""

    temperature = StringField(
        "Temperature", description="26.5, 26,5 or 79.7 F",
        validators=[InputRequired("What does the thermometer read?"), Length(max=40)],
    )  # fmt: skip


def _test(label: str) -> StringField:
    return StringField(label, validators=[Optional(), Length(max=20)])


def _unit(quantity: Quantity) -> SelectField:
    """The unit of a test, never guessed where tests come in several: N or NO3 is a factor of 4."""
    names = {"": "choose"} | {name: name for name in UNITS[quantity]}
    return SelectField("unit", choices=names, validators=[Optional()])


class WaterTestForm(EntryForm, WhenFields):
    """What a water test said. Each field stands under its quantity's name in the glossary."""

    salinity_psu = _test("Salinity")
    instrument = RadioField(
        "Read with",
        choices={
            Instrument.REFRACTOMETER.value: "refractometer, ppt",
            Instrument.GLASS_HYDROMETER.value: "glass hydrometer, specific gravity",
            Instrument.SWING_ARM.value: "swing-arm hydrometer, specific gravity",
            Instrument.CONDUCTIVITY.value: "conductivity, mS/cm, not compensated",
        },
        default=Instrument.REFRACTOMETER.value,
    )
    sample = StringField("Sample was at", description="empty: as warm as the tank",
                         validators=[Optional(), Length(max=20)])  # fmt: skip
    marked_at = StringField(
        "Hydrometer is made for", description="printed on it; 15, 17.5 or 25 °C",
        validators=[Optional(), Length(max=20)],
    )  # fmt: skip
    offset = StringField("Reads too high by", description="on a known standard, in ppt",
                         validators=[Optional(), Length(max=20)])  # fmt: skip
    ph = _test("pH")
    total_ammonia_mg_l = _test("Total ammonia")
    total_ammonia_unit = _unit(Quantity.TOTAL_AMMONIA)
    nitrite_mg_l = _test("Nitrite")
    nitrite_unit = _unit(Quantity.NITRITE)
    nitrate_mg_l = _test("Nitrate")
    nitrate_unit = _unit(Quantity.NITRATE)
    alkalinity_meq_l = _test("Alkalinity")
    alkalinity_unit = _unit(Quantity.ALKALINITY)
    oxygen_mg_l = _test("Oxygen")
    oxygen_unit = _unit(Quantity.OXYGEN)

    def read_tests(self) -> tuple[Test, ...]:
        """Every figure that was filled in, with its unit; salinity stands by itself."""
        asked = (
            (Quantity.PH, self.ph, ""),
            (Quantity.TOTAL_AMMONIA, self.total_ammonia_mg_l, self.total_ammonia_unit.data),
            (Quantity.NITRITE, self.nitrite_mg_l, self.nitrite_unit.data),
            (Quantity.NITRATE, self.nitrate_mg_l, self.nitrate_unit.data),
            (Quantity.ALKALINITY, self.alkalinity_meq_l, self.alkalinity_unit.data),
            (Quantity.OXYGEN, self.oxygen_mg_l, self.oxygen_unit.data),
        )
        return tuple(
            Test(quantity, field.data.strip(), unit or "")
            for quantity, field, unit in asked
            if field.data and field.data.strip()
        )

    def read_salinity(self) -> SalinityTest | None:
        """The salinity as it stands on its instrument; None where none was filled in."""
        if not (self.salinity_psu.data and self.salinity_psu.data.strip()):
            return None
        return SalinityTest(
            self.salinity_psu.data,
            Instrument(self.instrument.data),
            self.sample.data or "",
            self.marked_at.data or "",
            self.offset.data or "",
        )


class LoggerForm(EntryForm):
    """A logger's column: pasted, or out of its file."""

    text = TextAreaField(
        "Time and temperature, one line each",
        description="as the logger wrote it: 2026-11-24 14:30, 26.5; with or without headings",
        validators=[Optional()],
    )
    file = FileField("Or its file")


class SetPointForm(EntryForm, WhenFields):
    """What the heater is set to."""

    set_point = StringField(
        "Heater set to", description="26.5, 26,5 or 79.7 F",
        validators=[InputRequired("What is the heater set to?"), Length(max=40)],
    )  # fmt: skip


class LightsForm(EntryForm, WhenFields):
    """When the lamp over this tank, or over its whole rack, is lit."""

    lights_on = StringField("Lights on", validators=[InputRequired("When do they go on?")])
    lights_off = StringField("Lights off", validators=[InputRequired("When do they go off?")])
    whose = RadioField("For", choices={"tank": "this tank"}, default="tank")


class ChangeForm(EntryForm, WhenFields):
    """What the tank is called, holds and is for."""

    label = StringField("Label", validators=[InputRequired("It needs a label."), Length(max=40)])
    volume = StringField("Water", validators=[InputRequired("How much does it hold?"),
                                              Length(max=40)])  # fmt: skip
    role = RadioField("Kept for", choices=ROLES)
    rack = StringField("Rack", validators=[Optional(), Length(max=40)])
    system = StringField("System", validators=[Optional(), Length(max=40)])
