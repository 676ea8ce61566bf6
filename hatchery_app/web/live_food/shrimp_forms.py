"""What is said of brine shrimp: a lot, a start, a harvest, an enrichment, where they went."""

from wtforms import BooleanField, RadioField, SelectField, StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.live_food.shrimp_hatch import EndedAs, Ripe
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.live_food.forms import short
from hatchery_app.web.live_food.shelf_forms import StockFields
from hatchery_app.web.when_fields import WhenFields


class LotForm(EntryForm, WhenFields, StockFields):
    """A lot of cysts with its tin."""

    name = StringField(
        "What it is called", description="as you would write it on the tin",
        validators=[Optional(), Length(max=80)],
    )  # fmt: skip
    unit = RadioField("In", choices={"g": "g", "kg": "kg"}, default="g", validators=[Optional()])
    grade = short("Grade", "as the label says")
    hatch_percent = short("Hatching percentage", "by the label or a test; empty if nobody said")
    nauplii_per_g = short("Nauplii per gram", "230000; empty if nobody said")


class StartForm(EntryForm, WhenFields):
    """Cysts put into water."""

    lot_id = SelectField("Lot", coerce=int, validators=[Optional()])
    grams = short("Cysts")
    litres = short("In")
    temperature = short("Water")
    salinity = short("Salinity", "may stay empty")
    vessel = short("Where", "cone 1; may stay empty")


class HarvestForm(EntryForm, WhenFields):
    """A hatch harvested, or what is in hand counted again."""

    animals = short("Shrimp got", "180000 or 1.8e5; or count samples below; empty if not counted")
    counts = short("Nauplii in each sample", "118, 122")
    sample_ml = short("One sample", default="1")
    dilution = short("Diluted 1 to", default="1")
    water_l = short("Of so many litres", "the water that the samples were taken from")
    umbrellas = short("Umbrellas in the same samples", "half out of the shell")
    embryos = short("Embryos still in the shell, same samples")
    ripe = RadioField(
        "It was", choices={one.value: one.value for one in Ripe}, default=Ripe.IN_TIME.value,
        validators=[Optional()],
    )  # fmt: skip
    rinsed = BooleanField("Rinsed", default=True)


class EnrichForm(EntryForm, WhenFields):
    """Shrimp put into enrichment."""

    shelf_id = SelectField("With", coerce=int, default=0, validators=[Optional()])
    what = short("Or with", "if it is not on the shelf")
    amount = short("How much of it", "may stay empty")
    hours = short("For", default="24")
    litres = short("In", "their density rests on it; may stay empty")


class FedForm(EntryForm, WhenFields):
    """Shrimp fed out or moved."""

    animals = short("Shrimp", "60000; empty if nobody counted")
    holding_id = SelectField("Fed to", coerce=int, default=0, validators=[Optional()])
    into = short("Or moved to", "the cold store, G2")
    rinsed = BooleanField("Rinsed", default=True)
    last_of_it = BooleanField("That was the last of this hatch")


class OverForm(EntryForm, WhenFields):
    """A hatch is over."""

    ended_as = RadioField(
        "It", choices={one.value: one.value for one in EndedAs}, default=EndedAs.USED_UP.value,
        validators=[Optional()],
    )  # fmt: skip
    reason = short("What is thought", "too cold, old tin, no air")
