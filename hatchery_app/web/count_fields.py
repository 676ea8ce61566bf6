"""How many, by the way it was counted: the way first, then only what that way asks for."""

from collections.abc import Sequence
from typing import Any

from flask import request
from wtforms import BooleanField, HiddenField, RadioField, StringField, TextAreaField
from wtforms.validators import Length, Optional

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany, parse
from hatchery_app.domain.stock_book.worked_count import (
    CountedBy,
    LookSaid,
    Sampled,
    Seen,
    WorkedCount,
    looked,
    read_samples,
    read_weighed,
    worked_from_aliquots,
    worked_from_photo,
    worked_from_squares,
    worked_from_weights,
)
from hatchery_app.domain.typed_amounts import parse_length, parse_mass, parse_volume
from hatchery_app.domain.units import CENTIMETRE, GRAM, MILLILITRE
from hatchery_app.services.stock_book.counting import CountGround
from hatchery_app.web import whole_numbers
from hatchery_app.web.entry_form import reads

ONE_BY_ONE, ALIQUOTS, SQUARES = CountedBy.ONE_BY_ONE, CountedBy.ALIQUOTS, CountedBy.SQUARES
WEIGHED, PHOTO, LOOK = CountedBy.WEIGHED, CountedBy.PHOTO, CountedBy.LOOK
WAYS = {
    ONE_BY_ONE: "one by one",
    ALIQUOTS: "samples of the water",
    SQUARES: "squares on the patch",
    WEIGHED: "weighed samples",
    PHOTO: "on a picture",
    LOOK: "a look",
}
SEEN = {
    Seen.ALL.value: "all of them are in it",
    Seen.SOME_HIDDEN.value: "some may be hidden",
    Seen.UNSHARP.value: "not sharp enough to be sure",
}
OF_LARVAE = (ONE_BY_ONE, ALIQUOTS, PHOTO, LOOK)
OF_WATER = (ONE_BY_ONE, ALIQUOTS, LOOK)  # of larvae on their way into a tank
OF_FISH = (ONE_BY_ONE, PHOTO, LOOK)  # settled fish keep to the bottom: samples say nothing
OF_GLUED_EGGS = (ONE_BY_ONE, SQUARES, PHOTO, LOOK)  # weighing would tear them off
OF_LOOSE_EGGS = (ONE_BY_ONE, ALIQUOTS, WEIGHED, PHOTO, LOOK)
LOOKS = tuple(LookSaid)
FIRST_LOOKS = (LookSaid.ABOUT, LookSaid.AT_LEAST, LookSaid.FEW, LookSaid.UNKNOWN)


def _figure(label: str, description: str = "", default: str = "") -> StringField:
    return StringField(
        label, description=description, default=default, validators=[Optional(), Length(max=200)]
    )


class CountFields:
    """Mix in before EntryForm: a number by one of several ways. `offer` says by which.

    `worked` is what the figures say so far; it is shown, and nothing of it is saved.
    """

    how = RadioField(
        "How were they counted", default=ONE_BY_ONE.value, validators=[Optional()],
        choices={way.value: words for way, words in WAYS.items()},
    )  # fmt: skip
    number = StringField(
        "How many", description="143; what is written as about 200 or >300 is taken so",
        validators=[Optional(), Length(max=60), reads(lambda text: parse(text, "number"))],
    )  # fmt: skip
    counts = _figure("In each sample", "five or more: 12, 9, 14, 11, 10")
    aliquot_ml = _figure("One sample")
    total_ml = _figure("Out of how much water", "12 L, or 12000 mL")
    use_recovery = BooleanField("Correct for those that are not found", default=True)
    squares = _figure("Eggs in each square", "six or more, laid at random: 38, 41, 35")
    length_cm = _figure("Patch, longest", "across, in cm: 5.2")
    width_cm = _figure("Patch, across that", "4.8")
    square_cm2 = _figure("One square", default="1")
    weighed = TextAreaField(
        "Each sample's weight with its eggs", description="one a line: 1.5 g 36",
        validators=[Optional(), Length(max=800)],
    )  # fmt: skip
    total_g = _figure("Weight of all the eggs")
    photo_id = HiddenField()
    photo_seen = RadioField(
        "Are they all in the picture", choices=SEEN, default=Seen.ALL.value,
        validators=[Optional()],
    )  # fmt: skip
    photo_number = StringField(
        "How many, if they are not marked",
        validators=[Optional(), Length(max=60), reads(lambda text: parse(text, "photo_number"))],
    )  # fmt: skip
    look = RadioField(
        "By looking", choices={one.value: one.value for one in LookSaid}, validators=[Optional()]
    )
    look_number = StringField(
        "How many", description="80, or 60-90; only for about or at least",
        validators=[Optional(), Length(max=60), reads(lambda text: parse(text, "look_number"))],
    )  # fmt: skip

    worked: WorkedCount | None = None
    ground: CountGround = CountGround()

    def offer(
        self, ways: Sequence[CountedBy], ground: CountGround, looks: Sequence[LookSaid] = LOOKS
    ) -> None:
        """Which ways and looks stand to choose, and what the room knows that they rest on."""
        self.ground = ground
        self.how.choices = {way.value: WAYS[way] for way in ways}
        self.look.choices = {one.value: one.value for one in looks}
        if ground.photo is not None and request.method == "GET":
            self.how.data, self.photo_id.data = PHOTO.value, str(ground.photo.photo_id)

    def tries(self) -> bool:
        """Whether it was sent only to be worked out; then the answer stands in `worked`."""
        if not request.form.get("work_out"):
            return False
        try:
            self.worked = self.work_out()
        except RuleBroken as refused:
            self.refuse(refused)  # type: ignore[attr-defined]
        return True

    def read_number(self) -> HowMany:
        """The number by the way that was chosen. Raises RuleBroken beside its field, or Asked."""
        return self.work_out().number

    def work_out(self) -> WorkedCount:
        """The same, with the lines that say how it came about."""
        chosen = self.how.data or ONE_BY_ONE.value
        if chosen not in self.ways:
            raise RuleBroken("Say how they were counted.", field="how")
        way = CountedBy(chosen)
        try:
            worked: WorkedCount = _BY[way](self)
        except Asked:
            raise
        except RuleBroken as refused:
            field = BESIDE.get((way, refused.field), refused.field)
            raise RuleBroken(refused.sentence, field) from refused
        return worked

    def _as_written(self) -> WorkedCount:
        written = (self.number.data or "").strip()
        if not written:
            return self._nothing_written()
        return WorkedCount(ONE_BY_ONE, parse(written, "number"), ())

    def _nothing_written(self) -> WorkedCount:
        raise RuleBroken("Say how many: 143, about 80, at least 50.", field="number")

    def _looked(self) -> WorkedCount:
        if self.look.data not in tuple(LookSaid):
            raise RuleBroken("Say what the look showed.", field="look")
        written = (self.look_number.data or "").strip()
        number = parse(written, "look_number") if written else None
        return WorkedCount(LOOK, looked(LookSaid(self.look.data), number, self.ground.before), ())

    def _from_aliquots(self) -> WorkedCount:
        trial = self.ground.trial
        return worked_from_aliquots(
            read_samples(self.counts.data or "", "counts"),
            aliquot_ml=self._volume("aliquot_ml"),
            total_ml=self._volume("total_ml"),
            recovery=trial.recovery if trial is not None and self.use_recovery.data else None,
        )

    def _from_squares(self) -> WorkedCount:
        return worked_from_squares(
            read_samples(self.squares.data or "", "squares"),
            length_cm=self._length("length_cm"),
            width_cm=self._length("width_cm"),
            square_cm2=read_amount(self.square_cm2.data, "square_cm2"),
        )

    def _from_weights(self) -> WorkedCount:
        total = parse_mass(self.total_g.data or "", GRAM, "total_g")
        return worked_from_weights(
            read_weighed(self.weighed.data or "", "weighed"),
            total_g=float(total.canonical), loose=self.ground.loose_eggs,
        )  # fmt: skip

    def _from_photo(self) -> WorkedCount:
        photo = self.ground.photo
        if photo is None:
            raise RuleBroken("Take or choose a picture first, and mark them on it.", field="how")
        written = (self.photo_number.data or "").strip()
        seen = Seen(self.photo_seen.data) if self.photo_seen.data in SEEN else Seen.ALL
        if not photo.marks and not written:
            raise RuleBroken("Mark them on the picture, or write how many.", field="photo_number")
        return worked_from_photo(
            len(photo.marks), seen, photo.photo_id,
            parse(written, "photo_number") if written else None,
        )  # fmt: skip

    def _volume(self, name: str) -> float:
        answers: dict[str, str] = self.answers  # type: ignore[attr-defined]
        typed = getattr(self, name).data or ""
        amount = parse_volume(typed, unit_default=MILLILITRE, field=name, answers=answers)
        return float(amount.canonical * 1000)

    def _length(self, name: str) -> float:
        amount = parse_length(getattr(self, name).data or "", CENTIMETRE, name)
        return float(amount.canonical) / 10

    @property
    def trial_said(self) -> str:
        """The room's own recovery in words, "" where no trial was made."""
        trial = self.ground.trial
        if trial is None:
            return ""
        return f"{trial.recovery.said()} of {trial.known_number} {trial.sampled} were found"

    @property
    def ways(self) -> set[str]:
        """The ways that stand to choose."""
        return {option.data for option in self.how}

    @property
    def of_loose_eggs(self) -> bool:
        """Whether samples of the water hold eggs."""
        return self.ground.sampled is Sampled.LOOSE_EGGS


# What the domain calls a figure, by the field in which the keeper wrote it.
BESIDE = {
    (ALIQUOTS, "volume"): "total_ml",
    (SQUARES, "counts"): "squares",
    (SQUARES, "square"): "square_cm2",
    (SQUARES, "patch"): "length_cm",
    (WEIGHED, "counts"): "weighed",
    (WEIGHED, "subsamples"): "weighed",
    (WEIGHED, "method"): "how",
}
_BY: dict[CountedBy, Any] = {
    ONE_BY_ONE: lambda form: form._as_written(), ALIQUOTS: CountFields._from_aliquots,
    SQUARES: CountFields._from_squares, WEIGHED: CountFields._from_weights,
    PHOTO: CountFields._from_photo, LOOK: CountFields._looked,
}  # fmt: skip


def picture_asked_for() -> int:
    """The picture that an address or a sent form names, 0 where none is."""
    return whole_numbers.read(request.values.get("photo_id", "")) or 0


def read_amount(text: str | None, field: str) -> float:
    """An amount above 0 as typed: 1.5, 1,5, 2e9. Raises RuleBroken beside the field."""
    written = (text or "").strip().replace(" ", "").replace(",", ".")
    try:
        amount = float(written)
    except ValueError as reason:
        raise RuleBroken("Write an amount, like 1.5.", field=field) from reason
    if not 0 < amount < 1e13:
        raise RuleBroken("That must be above 0.", field=field)
    return amount
