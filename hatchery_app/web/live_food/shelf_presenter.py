"""The shelf in words: what is left, how long it lasts, by when to order."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from flask import url_for

from hatchery_app.domain.larval_tank.microdiet import lengths_for
from hatchery_app.domain.live_food.algae import alga_named
from hatchery_app.domain.live_food.live_food import two_figures_said
from hatchery_app.domain.live_food.shelf import ShelfItem, StockKind, paste_cells_per_ml
from hatchery_app.domain.when import When, say_date, say_when
from hatchery_app.services.live_food.live_food_shrimp_page import ItemPage, OnShelf, ShrimpList
from hatchery_app.services.records.room import RoomNow
from hatchery_app.web.addresses import address_of


@dataclass(frozen=True)
class ItemLine:
    """One item on the shelf."""

    name: str
    url: str
    left: str
    order: str
    is_due: bool
    what: str


@dataclass(frozen=True)
class KindPart:
    """The items of one kind."""

    heading: str
    items: tuple[ItemLine, ...]


@dataclass(frozen=True)
class ShelfPage:
    """The whole shelf."""

    heading: str
    parts: tuple[KindPart, ...]
    empty: tuple[ItemLine, ...]


@dataclass(frozen=True)
class EntryLine:
    """One thing written down."""

    when: str
    what: str
    note: str
    url: str


@dataclass(frozen=True)
class ItemShown:
    """One item."""

    heading: str
    id: int
    beside: str
    lead: str
    order: str
    is_due: bool
    facts: tuple[tuple[str, str], ...]
    taken: tuple[tuple[str, str, str], ...]
    unit: str
    entries: tuple[EntryLine, ...]
    lot_url: str


@dataclass(frozen=True)
class FormPage:
    """A form about the shelf."""

    heading: str
    form: Any
    part: str
    back: str


def listed(answer: ShrimpList, room: RoomNow, now: datetime) -> ShelfPage:
    """Everything on the shelf, by kind; what is empty last."""
    today = room.room_time.local(now).date()
    full = [one for one in answer.shelf if not one.item.is_finished]
    parts = tuple(
        KindPart(kind.value.capitalize(), tuple(
            _line(one, today) for one in full if one.item.kind is kind
        ))
        for kind in StockKind
        if any(one.item.kind is kind for one in full)
    )  # fmt: skip
    empty = tuple(_line(one, today) for one in answer.shelf if one.item.is_finished)
    return ShelfPage("The shelf", parts, empty)


def due_lines(answer: ShrimpList, room: RoomNow, now: datetime) -> tuple[ItemLine, ...]:
    """What is to be ordered now, or is past its date."""
    today = room.room_time.local(now).date()
    return tuple(
        _line(one, today) for one in answer.shelf
        if not one.item.is_finished and (one.outlook.is_due(today) or one.outlook.is_past_best)
    )  # fmt: skip


def _line(one: OnShelf, today: date) -> ItemLine:
    item = one.item
    return ItemLine(
        item.name,
        url_for("live_food.show_item", shelf_id=item.id),
        one.outlook.left.said(item.unit),
        order_said(one, today),
        one.outlook.is_due(today) or one.outlook.is_past_best,
        " · ".join(word for word in (_use(one), _opened(item), _grain(item)) if word),
    )


def order_said(one: OnShelf, today: date) -> str:
    """ "order by Fri 4 Dec", "order now", or what is wanted before that can be said."""
    found = one.outlook
    if found.is_past_best and one.item.best_before_on is not None:
        return f"past its date, {say_date(one.item.best_before_on)}"
    if found.order_on is None:
        return found.why
    if found.order_on <= today:
        return "order now"
    return f"order by {say_date(found.order_on, year=found.order_on.year != today.year)}"


def _use(one: OnShelf) -> str:
    found = one.outlook
    said = []
    if found.by_record.per_day is not None:
        said.append(f"{two_figures_said(found.by_record.per_day)} {one.item.unit} a day")
    if found.by_plan is not None:
        said.append(f"{two_figures_said(found.by_plan)} {one.item.unit} a day by the plan")
    return ", ".join(said)


def _opened(item: ShelfItem) -> str:
    return f"opened {say_date(item.opened_on)}" if item.opened_on is not None else ""


def _grain(item: ShelfItem) -> str:
    if item.particle_um is None:
        return ""
    low, high = item.particle_um
    size = f"{low:g} µm" if low == high else f"{low:g}–{high:g} µm"
    fits = lengths_for(low, high)
    return size if fits is None else f"{size}, for fish of {fits[0]:g}–{fits[1]:g} mm"


def _strength(item: ShelfItem) -> str:
    """Cells per mL by the label, else by the dry part where the alga is known."""
    if item.cells_per_ml is not None:
        return f"{two_figures_said(item.cells_per_ml / 1e9)} billion, by its label"
    alga = alga_named(item.name)
    cells = paste_cells_per_ml(item.dry_fraction, alga.dry_pg if alga else None, None)
    if cells is None or alga is None:
        return ""
    return (
        f"{two_figures_said(cells / 1e9)} billion, by its dry part at {alga.dry_pg:g} pg a cell"
        " (from memory); labels may differ several times"
    )


def shown(answer: ItemPage, room: RoomNow, now: datetime) -> ItemShown:
    """One item's page."""
    one, room_time = answer.on_shelf, room.room_time
    item, found = one.item, one.outlook
    today = room_time.local(now).date()
    taken = tuple(
        (say_when(When.exactly(change.at), room_time), change.stock.said(item.unit),
         change.change.value + (f", {change.what_for}" if change.what_for else ""))
        for change in reversed(item.changes)
    )  # fmt: skip
    return ItemShown(
        heading=item.name,
        id=item.id,
        beside=item.kind.value,
        lead=f"{found.left.said(item.unit)} left",
        order=order_said(one, today),
        is_due=found.is_due(today) or found.is_past_best,
        facts=(
            ("Goes a day", _use(one) or "not known"),
            ("Rests on", found.by_record.rests_on),
            ("The plan", one.planned_by),
            ("Lasts until", say_date(found.lasts_until_on) if found.lasts_until_on else ""),
            ("Delivery", f"{item.delivery_days} days" if item.delivery_days is not None else ""),
            ("Opened", say_date(item.opened_on) if item.opened_on else ""),
            ("Best before", say_date(item.best_before_on, year=True)
             if item.best_before_on else ""),
            ("Weighed", say_when(When.exactly(item.last_counted_at), room_time)
             if item.last_counted_at else "not since it came"),
            ("Dry part", f"{100 * item.dry_fraction:.0f} %" if item.dry_fraction else ""),
            ("Cells per mL", _strength(item)),
            ("Grain", _grain(item)),
        ),
        taken=taken[:30],
        unit=item.unit,
        entries=tuple(
            EntryLine(say_when(e.when, room_time), e.what, e.note,
                      address_of("records.entry", fact_id=e.fact_id))
            for e in answer.entries
        ),
        lot_url=url_for("live_food.show_lot", lot_id=one.lot_id) if one.lot_id else "",
    )  # fmt: skip


def form_of(form: Any, heading: str, part: str, back: str) -> FormPage:
    """A form about the shelf."""
    return FormPage(heading, form, part, back)
