"""What is said of the shelf: what came, what was weighed, what was taken."""

from datetime import date

from wtforms import RadioField, StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.shelf import UNITS, Change, HowGot, Stock, StockKind, parse_stock
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.live_food.forms import read_figure, read_whole, short
from hatchery_app.web.when_fields import WhenFields, read_day

SAID_HOW = (HowGot.WEIGHED, HowGot.BY_LABEL, HowGot.ABOUT)


class StockFields:
    """Mix into an EntryForm: how much there is, how that was got, and its dates."""

    amount = short("How much is there", "340, about 300, 250–400, or ? if nobody knows")
    how = RadioField(
        "That is", choices={one.value: one.value for one in SAID_HOW},
        default=HowGot.BY_LABEL.value, validators=[Optional()],
    )  # fmt: skip
    opened_on = StringField("Opened on", validators=[Optional()])
    best_before_on = StringField("Best before", validators=[Optional()])
    delivery_days = short("Days from order to door", "your own supplier's; empty: no order day")

    def read_came(self) -> Stock:
        """How much there is."""
        return parse_stock(self.amount.data or "", HowGot(self.how.data or HowGot.BY_LABEL))

    def read_opened(self) -> date | None:
        """When it was opened, None where nobody said."""
        return read_day(self.opened_on.data, "opened_on")

    def read_best_before(self) -> date | None:
        """Until when it keeps, None where nobody said."""
        return read_day(self.best_before_on.data, "best_before_on")

    def read_delivery_days(self) -> int | None:
        """Days from order to door, None where nobody said."""
        return read_whole(self.delivery_days.data, "delivery_days")


class ItemForm(EntryForm, WhenFields, StockFields):
    """A tin, bag or bottle. Cysts are entered as a lot."""

    kind = RadioField(
        "What it is", default=StockKind.PASTE.value, validators=[Optional()],
        choices={one.value: one.value for one in StockKind if one is not StockKind.CYSTS},
    )  # fmt: skip
    name = StringField(
        "What it is called", description="as you would write it on the bottle",
        validators=[Optional(), Length(max=80)],
    )  # fmt: skip
    unit = RadioField("In", choices={one: one for one in UNITS}, default="mL",
                      validators=[Optional()])  # fmt: skip
    dry_percent = short("Paste: dry part", "by its label; 18 is common")
    cells_per_ml = short("Paste: cells per mL", "if the label says cells: 6.8e10")
    particles = short("Dry food: grain", "150–250")

    def read_dry_fraction(self) -> float | None:
        """The dry part as a share of 1."""
        percent = read_figure(self.dry_percent.data, "dry_percent")
        if percent is not None and percent > 100:
            raise RuleBroken("The dry part lies between 0 and 100 %.", field="dry_percent")
        return None if percent is None else percent / 100

    def read_particles(self) -> tuple[float, float] | None:
        """The smallest and largest grain in µm; one figure is both."""
        written = (self.particles.data or "").strip()
        if not written:
            return None
        ends = [read_figure(one, "particles") for one in
                written.replace("–", "-").replace("to", "-").split("-")]  # fmt: skip
        known = [one for one in ends if one is not None]
        if not 1 <= len(known) <= 2 or len(known) != len(ends):
            raise RuleBroken("Write the smallest and the largest grain: 150–250.", "particles")
        return known[0], known[-1]


class ChangeForm(EntryForm, WhenFields):
    """It was weighed, some was taken, or more came."""

    change = RadioField(
        "What", choices={one.value: one.value for one in Change}, default=Change.COUNTED.value,
        validators=[Optional()],
    )  # fmt: skip
    amount = short("How much", "left there, taken, or come: 340, about 300, empty, ?")
    how = RadioField(
        "That is", choices={one.value: one.value for one in SAID_HOW},
        default=HowGot.WEIGHED.value, validators=[Optional()],
    )  # fmt: skip
    what_for = short("What for", "cohorts, water change; may stay empty")

    def read_stock(self) -> Stock:
        """How much."""
        return parse_stock(self.amount.data or "", HowGot(self.how.data or HowGot.WEIGHED))
