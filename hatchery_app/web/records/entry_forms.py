"""Forms that say an entry anew: built from what its kind declares, filled with what stands."""

from datetime import timedelta
from typing import Any

from flask import g, request
from wtforms import BooleanField, RadioField, SelectField, StringField

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.when import RoomTime, When
from hatchery_app.services.records.record_typed import NO, YES, PartNow
from hatchery_app.services.records.records import EntryPage
from hatchery_app.web.entry_form import EntryForm
from hatchery_app.web.when_fields import AT, BETWEEN, WHEN, WhenFields, when_as_typed

CHOSEN = ("WORD", "FACT", "PARENT", "SPECIES")
FEW = 5  # so many words stand as strips to tap; more as a list to pick from
ASKED_AS = {"DAY": "date", "CLOCK": "time", "WHOLE": "numeric", "FIGURE": "decimal",
            "TEMPERATURE": "decimal", "READING": "decimal", "HOW_MANY": "how_many"}  # fmt: skip


class RecordForm(EntryForm):
    """A form about an entry. `in_the_way` are the entries that a refusal named."""

    in_the_way: tuple[Any, ...] = ()

    def refuse(self, refused: RuleBroken) -> None:
        """Keep the entries named, so that the page can lead to them."""
        self.in_the_way = getattr(refused, "entries", ())
        super().refuse(refused)


class WithdrawForm(RecordForm):
    """Taking an entry back; the note says why."""


def correction_form(page: EntryPage) -> Any:
    """A form for this entry, with a field for each part that can be said anew."""
    fields = {part.name: _field(part) for part in page.parts}
    bases = (WhenFields, RecordForm) if page.is_dated else (RecordForm,)
    form: Any = type("CorrectionForm", bases, fields)()
    if request.method == "GET":
        _fill(form, page)
    return form


def _field(part: PartNow) -> Any:
    if part.reads == "YES_NO":
        return BooleanField(part.label)
    if part.reads in CHOSEN:
        few = part.reads == "WORD" and len(part.choices) <= FEW
        return (RadioField if few else SelectField)(part.label, choices=dict(part.choices))
    return StringField(part.label)


def how_asked(part: PartNow) -> str:
    """Which macro of the template asks for a part."""
    if part.reads in CHOSEN:
        return "choice" if part.reads == "WORD" and len(part.choices) <= FEW else "pick"
    return "tick" if part.reads == "YES_NO" else ASKED_AS.get(part.reads, "text")


def _fill(form: Any, page: EntryPage) -> None:
    for part in page.parts:
        field = form[part.name]
        field.data = part.text == YES if part.reads == "YES_NO" else part.text
    form.note.data = page.now.note
    if page.is_dated:
        typed = when_as_typed(page.now.when, g.room.room_time)
        beside = _beside(page.now.when, g.room.room_time)
        for name, text in (beside | {n: t for n, t in typed.items() if t}).items():
            form[name].data = text
        form.from_memory.data = page.now.when.from_memory


def _beside(when: When, room_time: RoomTime) -> dict[str, str]:
    """The fields of the ways not chosen, from what stands: found then, last looked the day before.

    So that a laying put down at one moment becomes one between two looks without typing dates.
    """
    first, last = room_time.local(when.earliest), room_time.local(when.latest)
    clock = f"{last:%H:%M}" if when.is_exact else ""
    return dict.fromkeys(WHEN, "") | {
        "at_on": last.date().isoformat(), "at_time": clock,
        "from_on": (first.date() - timedelta(days=1)).isoformat(),
        "until_on": last.date().isoformat(), "until_time": clock,
    }  # fmt: skip


def typed_parts(form: Any, page: EntryPage) -> dict[str, str]:
    """What stands in the parts' fields, as text."""
    return {
        part.name: (YES if form[part.name].data else NO)
        if part.reads == "YES_NO"
        else (form[part.name].data or "")
        for part in page.parts
    }


def when_said_anew(form: Any, page: EntryPage) -> When | None:
    """When it happened, None where nothing was changed: then it keeps its seconds too."""
    if not page.is_dated:
        return None
    was = when_as_typed(page.now.when, g.room.room_time)
    how = was["when_how"]
    shown = {AT: WHEN[:3], BETWEEN: (WHEN[0], *WHEN[3:])}[how]
    same = all((form[name].data or "") == was[name] for name in shown)
    if same and bool(form.from_memory.data) == page.now.when.from_memory:
        return None
    said: When = form.read_when()
    return said
