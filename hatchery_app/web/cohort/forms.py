"""What can be said of a cohort: counted, measured, graded, set aside, moved, gone, kept."""

from collections.abc import Sequence
from typing import Any

from wtforms import BooleanField, RadioField, SelectField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional

from hatchery_app.domain.broodstock.body_length import LengthKind
from hatchery_app.domain.cohort.cohort import Aside, GradedOut
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.services.cohort.cohort import GradeSaid
from hatchery_app.services.cohort.cohort_leaving import DOORS
from hatchery_app.web.count_fields import CountFields
from hatchery_app.web.entry_form import EntryForm, reads
from hatchery_app.web.number_fields import SomeOrAll
from hatchery_app.web.when_fields import WhenFields

GRADES = 4  # rows of a grading; a fifth grade is rare and goes into a second entry
MOVED = "moved"


def number_field(label: str, field: str = "number", description: str = "") -> StringField:
    """A number as keepers write it."""
    return StringField(
        label, description=description,
        validators=[Optional(), Length(max=60), reads(lambda text: parse(text, field))],
    )  # fmt: skip


def words_field(label: str, description: str = "", most: int = 200) -> StringField:
    """A few words, which may stay empty."""
    return StringField(label, description=description, validators=[Optional(), Length(max=most)])


def pick_field(label: str, description: str = "") -> SelectField:
    """One of a list that the page fills."""
    return SelectField(
        label, description=description, coerce=int, default=0, validators=[Optional()],
        validate_choice=False,
    )  # fmt: skip


def whole(text: str | None, field: str) -> int | None:
    """A whole number of fish, None where nothing was said. Raises RuleBroken for a vague one."""
    if not (text or "").strip():
        return None
    number = parse(text or "", field)
    if number.best is None:
        raise RuleBroken("Say how many, as a number.", field=field)
    return number.best


def chosen(picked: int | None, field: str, sentence: str = "Choose the tank.") -> int:
    """What was picked from a list. Raises RuleBroken where nothing was."""
    if not picked:
        raise RuleBroken(sentence, field=field)
    return picked


class CountForm(CountFields, EntryForm, WhenFields):
    """How many are there, by the way they were counted."""

    bodies = number_field(
        "Bodies found since the last count", "bodies", "asked about where fewer are left"
    )


class LengthsForm(EntryForm, WhenFields):
    """Lengths of some of them, or what some weighed together."""

    lengths = TextAreaField(
        "Lengths, one fish after another",
        description="21 23 22.5, or 0.8 0.9 in; paste a column. Ten or more say most.",
        validators=[Optional(), Length(max=4000)],
    )  # fmt: skip
    measure = RadioField(
        "Measured as", choices={one.value: one.value for one in LengthKind},
        default=LengthKind.TOTAL.value, validators=[Optional()],
    )  # fmt: skip
    by_eye = BooleanField("By eye")
    weighed_g = words_field("Weighed together, g", "may stay empty: 6.2", 40)
    weighed_fish = number_field("How many fish were weighed", "weighed_fish")


class GradesForm(EntryForm, WhenFields):
    """A grading of one day: so many of each grade, in the keeper's own words."""

    grade_1, grade_2, grade_3, grade_4 = (words_field("Grade", most=80) for _ in range(GRADES))
    number_1, number_2, number_3, number_4 = (
        number_field("How many", f"number_{n}") for n in range(1, GRADES + 1)
    )
    sold_1, sold_2, sold_3, sold_4 = (BooleanField("Such fish are sold") for _ in range(GRADES))

    @property
    def rows(self) -> list[tuple[Any, Any, Any]]:
        """Grade, number and whether such are sold, of each row."""
        return [
            tuple(getattr(self, f"{name}_{n}") for name in ("grade", "number", "sold"))
            for n in range(1, GRADES + 1)
        ]

    def offer(self, words: Sequence[tuple[str, bool]]) -> None:
        """Fill in the grades this room has used, with whether such fish were sold."""
        for (grade, _number, sold), (said, may_be_sold) in zip(
            self.rows, [*words[-GRADES:], *[("", True)] * GRADES], strict=False
        ):
            grade.data, sold.data = said, may_be_sold

    def read_grades(self) -> list[GradeSaid]:
        """The rows with a number; a row with neither is left out."""
        said = []
        for grade, number, sold in self.rows:
            many = whole(number.data, number.name)
            if many is None and not (grade.data or "").strip():
                continue
            if many is None and len([row for row in self.rows if row[1].data]) > 0:
                continue  # a grade offered and left without a number: none today
            said.append(GradeSaid(grade.data or "", many, bool(sold.data)))
        return said


class SaleSizeForm(EntryForm):
    """From which length they are sold here."""

    length = words_field("Sold from a length of", "25 mm, or 1 in", 40)


class AsideForm(EntryForm, WhenFields):
    """Fish that are not for sale or breeding, or not yet."""

    why = RadioField(
        "They are", choices={one.value: one.value for one in Aside},
        validators=[InputRequired("Say why they are set aside.")],
    )  # fmt: skip
    number = number_field("How many", description="all of them if empty, wherever they are moved")
    reason = words_field("Reason", "practice clutch, bent spine, new system …")


class FreeForm(EntryForm, WhenFields):
    """Fish set aside are free again."""

    number = number_field("How many", description="all of these if empty")


class GoneForm(SomeOrAll, EntryForm, WhenFields):
    """Fish are gone, by a named door."""

    door = RadioField(
        "How", choices={door.value: door.value for door in DOORS}, default=DOORS[0].value,
        validators=[Optional()],
    )  # fmt: skip
    number = number_field("How many", description="3, about 5 or a few")
    everyone = BooleanField("All that are left")
    reason = words_field("Why", "needed when they were put down: it is read later")
    out_of = pick_field("Among those set aside?")


class MoveForm(EntryForm, WhenFields):
    """Fish go to another tank: moved, or graded up or down."""

    which = RadioField(
        "Which fish",
        choices={MOVED: "as they come"} | {one.value: one.value for one in GradedOut},
        default=MOVED, validators=[Optional()],
    )  # fmt: skip
    number = number_field("How many", description="all of them if empty")
    tank_1 = pick_field("To which tank")

    def read_number(self) -> HowMany | None:
        """The number as said; None means all."""
        if not (self.number.data or "").strip():
            return None
        return parse(self.number.data or "", "number")


class KeepForm(EntryForm, WhenFields):
    """Fish become breeders with names of their own."""

    names = words_field("Names", "one for each fish, with commas: Ditto, Quill")
    tank_id = pick_field("Their tank")
    out_of = pick_field("Among those set aside?")


class HereBeforeForm(EntryForm, WhenFields):
    """Growing fish that were here before the records began."""

    tank_1 = pick_field("Tank")
    species_key = SelectField("Species", validate_choice=False)
    number = number_field("How many", description="about 60, >50 or ? — may stay empty")
    hatched = words_field("Hatched", "2026-05-14, May, summer 2025, about 3 months, or empty", 60)
    lengths = words_field("Length", "25 mm, or several: 24 25 27", 400)
    by_eye = BooleanField("Length by eye", default=True)
    name = words_field("Name of the cohort", "may stay empty", 80)


class YoungForm(EntryForm, WhenFields):
    """Young of a species without larvae, straight into a cohort."""

    hatch_id = pick_field("Young")
    tank_1 = pick_field("Tank")
    number = number_field("How many")
    name = words_field("Name of the cohort", "may stay empty", 80)
