"""What is said of a culture vessel: started, counted or looked at, fed, sieved, lost."""

import re
from collections.abc import Sequence

from wtforms import BooleanField, Field, RadioField, SelectField, StringField
from wtforms.validators import Length, Optional

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.live_food.slide_count import Chamber
from hatchery_app.domain.live_food.vessel import Cultured, KeptAs, WaterLook
from hatchery_app.services.live_food.live_food import UNITS
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import WhenFields

MOST_SAMPLES = 40
CHAMBERS = {
    Chamber.LARGE_SQUARE: "large squares, 1 mm",
    Chamber.SMALL_SQUARE: "small squares, one of the 25 in the middle",
}


def short(label: str, description: str = "", default: str = "") -> StringField:
    """A field of one line that may stay empty."""
    return StringField(
        label, description=description, default=default, validators=[Optional(), Length(max=120)]
    )


class StartForm(EntryForm, WhenFields):
    """What a vessel holds from then on; also a restart from clean."""

    food = RadioField(
        "What lives in it", choices={one.value: one.value for one in Cultured},
        default=Cultured.ROTIFERS.value, validators=[Optional()],
    )  # fmt: skip
    strain = short("Strain", "L (plicatilis), S (rotundiformis), or the algae's name")
    kept_as = RadioField(
        "Kept", choices={one.value: one.value for one in KeptAs},
        default=KeptAs.PRODUCING.value, validators=[Optional()],
    )  # fmt: skip
    salinity = short("Salinity")
    from_tank = SelectField(
        "Seeded from", coerce=int, default=0, validators=[Optional()], validate_choice=False
    )
    seed = short("With how much", "1.5 L, or 50 per mL")


class CountForm(EntryForm, WhenFields):
    """Samples counted with the eggs on the same animals, or a look."""

    counts = short("Animals in each sample", "28, 31, 34: about 100 in all gives ±20 %")
    eggs = short("Eggs on these animals", "empty if they were not counted")
    sample_ml = short("One sample", default="1")
    dilution = short("Diluted 1 to", "10 for one part in ten, 1 for none", default="1")
    squares = RadioField(
        "Counted in", choices={"": "mL of a slide", **{one.name: words for one, words in
                               CHAMBERS.items()}},
        default="", validators=[Optional()],
    )  # fmt: skip
    look = RadioField(
        "Or a look", choices={look.value: look.value for look in Look}, validators=[Optional()]
    )

    def name_for(self, food: Cultured | None) -> None:
        """Algae are counted by squares."""
        if food is Cultured.ALGAE:
            self.counts.label.text, self.counts.description = "Cells in each square", "42, 37, 45"

    def begin_as(self, food: Cultured | None, before: tuple[float, float] | None) -> None:
        """A count is begun as the last was made: so many mL, so far diluted."""
        sample_ml, dilution = before or (1.0, 1.0)
        self.dilution.data = f"{dilution:g}"
        if food is Cultured.ALGAE:
            large = sample_ml == Chamber.LARGE_SQUARE.value
            self.squares.data = (Chamber.LARGE_SQUARE if large else Chamber.SMALL_SQUARE).name
        else:
            self.sample_ml.data = f"{sample_ml:g}"

    def read_counts(self) -> list[int]:
        """Each sample's number, none where a look is given instead."""
        return read_counts(self.counts.data)

    def read_sample_ml(self) -> float:
        """The mL of one sample: a square's of the haemocytometer, else as typed."""
        said = self.squares.data or ""
        if said in Chamber.__members__:
            return Chamber[said].value
        return read_figure(self.sample_ml.data, "sample_ml") or 1.0

    def read_look(self) -> Look | None:
        """The look in a word, None where samples were counted."""
        said = self.look.data or ""
        return Look(said) if said in {look.value for look in Look} else None

    def read_eggs(self) -> int | None:
        """How many eggs, None where they were not counted."""
        return read_whole(self.eggs.data, "eggs")


class CopepodForm(EntryForm, WhenFields):
    """Copepods counted by stage in one sample."""

    nauplii = short("Nauplii")
    copepodites = short("Copepodites")
    adults = short("Adults")
    sample_ml = short("The sample", default="1")
    dilution = short("Diluted 1 to", "10 for one part in ten, 1 for none", default="1")


class LookForm(EntryForm, WhenFields):
    """What was seen of the water and the animals, several things at once."""

    uneaten = BooleanField(WaterLook.UNEATEN.value)
    starved = BooleanField(WaterLook.STARVED.value)
    foam = BooleanField(WaterLook.FOAM.value)
    ciliates = BooleanField(WaterLook.CILIATES.value)
    on_the_walls = BooleanField(WaterLook.ON_THE_WALLS.value)
    resting_eggs = BooleanField(WaterLook.RESTING_EGGS.value)
    well = BooleanField(WaterLook.WELL.value)

    @property
    def ticks(self) -> list[Field]:
        """The fields of what may be seen, in their order."""
        return [self[one.name.lower()] for one in WaterLook]

    def read_seen(self) -> list[WaterLook]:
        """What was ticked."""
        return [one for one in WaterLook if self[one.name.lower()].data]


class FeedForm(EntryForm, WhenFields):
    """What it was fed, from the shelf or not."""

    shelf_id = SelectField("From the shelf", coerce=int, default=0, validators=[Optional()])
    what = short("Or something else", "yeast; then choose 'not from the shelf'")
    amount = short("Amount", "may stay empty")
    unit = RadioField("In", choices={unit: unit for unit in UNITS}, default="mL",
                      validators=[Optional()])  # fmt: skip

    def offer(self, items: Sequence[tuple[int, str]]) -> None:
        """What stands on the shelf to be fed from."""
        self.shelf_id.choices = [*items, (0, "not from the shelf")]
        if not items:
            self.what.label.text, self.what.description = "What it was fed", "paste, yeast"

    def read_shelf_id(self) -> int | None:
        """What it was taken from; None for what does not stand on the shelf."""
        other = (self.what.data or "").strip()
        if self.shelf_id.data and other:
            raise RuleBroken(
                f"Choose 'not from the shelf' above for {other}, or leave this empty.",
                field="what",
            )
        return self.shelf_id.data or None


class HarvestForm(EntryForm, WhenFields):
    """Culture sieved, and the vessel made up again."""

    litres = short("Culture taken out")
    animals = short("Animals got", "if they were counted: 340000 or 3.4e5")
    into = short("Where they went", "L3, L5, or the cool stock")


class SeedForm(EntryForm, WhenFields):
    """Culture of one vessel poured into another."""

    from_tank = SelectField("Out of", coerce=int, validators=[Optional()], validate_choice=False)
    litres = short("Culture", "unsieved; empty if nobody measured it")
    kept_as = RadioField(
        "Kept", choices={one.value: one.value for one in KeptAs},
        default=KeptAs.PRODUCING.value, validators=[Optional()],
    )  # fmt: skip


class GapForm(EntryForm):
    """One button: the food falls short."""


class LostForm(EntryForm, WhenFields):
    """The culture is lost."""

    reason = short("What is thought or seen", "ciliates, smell, all on the bottom")


_GROUPED = re.compile(r"\d{1,3}(?:[ ,.\u00a0\u202f]\d{3})+")
_MANY = {"million": 1e6, "billion": 1e9}


def read_many(text: str | None, field: str) -> float | None:
    """So many animals or cells, where 340,000 is no decimal: also 340 000, 3.4e5, 0.34 million;
    None: nothing."""
    written = (text or "").strip()
    for word, times in _MANY.items():
        if written.endswith(word):
            many = read_figure(written.removesuffix(word), field)
            return many * times if many is not None else None
    if _GROUPED.fullmatch(written):
        return float(re.sub(r"\D", "", written))
    return read_figure(written, field)


def read_whole(text: str | None, field: str) -> int | None:
    """A whole number of 0 or more; None where nothing was written."""
    written = (text or "").strip()
    if not written:
        return None
    if not (written.isascii() and written.isdigit() and len(written) < 9):
        raise RuleBroken("Write a whole number.", field=field)
    return int(written)


def read_counts(text: str | None, field: str = "counts") -> list[int]:
    """Each sample's number as typed: 28, 31, 34."""
    written = (text or "").replace(";", " ").replace(",", " ").split()
    if not all(one.isascii() and one.isdigit() and len(one) < 7 for one in written):
        raise RuleBroken("Write each sample's number: 28, 31, 34.", field=field)
    if len(written) > MOST_SAMPLES:
        raise RuleBroken(f"At most {MOST_SAMPLES} samples.", field=field)
    return [int(one) for one in written]


_OWN_UNITS = {
    "litres": "l", "water_l": "l", "sample_ml": "ml", "grams": "g", "temperature": "°c",
    "salinity": "psu", "hours": "h",
}  # fmt: skip


def read_figure(text: str | None, field: str) -> float | None:
    """A figure above 0 as typed: 1.5, 1,5, 2e5, or 1.5 L where litres are asked for; None where
    nothing was. No other unit is guessed at."""
    written = (text or "").strip().replace(" ", "").replace(",", ".").lower()
    written = written.removesuffix(_OWN_UNITS.get(field, ""))
    if not written:
        return None
    try:
        amount = float(written)
    except ValueError as reason:
        raise RuleBroken("Write a figure, like 1.5.", field=field) from reason
    if not 0 < amount < 1e13:
        raise RuleBroken("That must be above 0.", field=field)
    return amount
