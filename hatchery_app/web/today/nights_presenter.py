"""The room's fourteen nights on Today: a row a clutch, the sum of the room, and its tanks."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from hatchery_app.domain.clutch.nights_ahead import NightAhead
from hatchery_app.domain.when import Night
from hatchery_app.services.today.today import TodayPage
from hatchery_app.services.today.today_nights import TankAhead
from hatchery_app.services.today.tonight import NightWatch
from hatchery_app.web.addresses import address_of
from hatchery_app.web.clutch.nights_presenter import egg_nights, in_words
from hatchery_app.web.drawing import nights_ahead
from hatchery_app.web.drawing.canvas import Numbers
from hatchery_app.web.drawing.nights_ahead import EggRow, SumRow


@dataclass(frozen=True)
class ClutchWords:
    """One clutch in words: prepare from, be there, look at the eggs."""

    clutch_id: int
    name: str
    place: str
    told: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class RoomNights:
    """The nights ahead. `short` is the line at the head of Today, "" without eggs."""

    short: str
    drawn: Markup
    numbers: Numbers | None
    words: tuple[ClutchWords, ...]
    sum_said: tuple[str, ...]
    tanks: tuple[str, ...]


def room_nights(page: TodayPage) -> RoomNights:
    """The section and the line that leads to it."""
    found = page.nights
    if not found.clutches:
        return RoomNights("", Markup(""), None, (), (), ())
    drawing = nights_ahead.Nights(
        "The next fourteen nights, a row a clutch",
        tuple(night.said() for night in found.nights),
        tuple(_row(page, watch) for watch in found.clutches),
        _sums(found.sum.nights),
        tonight=0,
    )
    return RoomNights(
        short=_short(page),
        drawn=nights_ahead.nights_drawn(drawing, "room"),
        numbers=nights_ahead.numbers(drawing, "The next fourteen nights, of ten such clutches"),
        words=tuple(
            ClutchWords(
                watch.clutch_id, watch.name, watch.seen.clutch.place.tank_label,
                in_words(watch.seen, page.room.room_time),
            )
            for watch in found.clutches
        ),
        sum_said=_sum_said(page),
        tanks=_tanks_said(found.tanks),
    )  # fmt: skip


def _row(page: TodayPage, watch: NightWatch) -> EggRow:
    forecast = watch.seen.forecast
    note = f"{watch.seen.clutch.place.tank_label} · night {watch.seen.night_number}"
    return EggRow(
        watch.name,
        egg_nights(forecast, page.nights.nights) if forecast is not None else (),
        note,
        address_of("clutch.show", clutch_id=watch.clutch_id),
    )


def _sums(nights: Sequence[NightAhead]) -> tuple[SumRow, ...]:
    """Three rows under the clutches: that night, by then, and the tanks by then."""
    return (
        SumRow("may hatch that night", tuple(_run(night.may_come) for night in nights)),
        SumRow("hatched by then", tuple(_run(night.come_by) for night in nights)),
        SumRow(
            "tanks ready by then",
            tuple(str(night.tanks) for night in nights),
            tuple(night.may_be_short for night in nights),
        ),
    )


def _run(numbers: tuple[int, int]) -> str:
    low, high = numbers
    return str(low) if low == high else f"{low}–{high}"


def _short(page: TodayPage) -> str:
    """ "1–2 clutches by Mon 7 Dec, most on the night of Fri 27 Nov; a tank short from then"."""
    total = page.nights.sum
    last = total.nights[-1]
    said = f"{_clutches(last.come_by)} by {last.night.said()}"
    if total.fullest is not None and total.clutches > 1:
        said += f", most on the night of {total.fullest.night.said()}"
    short = total.short_from
    if short is not None:
        word = "tanks short" if short.likely_short else "tanks may be short"
        said += f"; {word} from {short.night.said()}"
    return said


def _clutches(numbers: tuple[int, int]) -> str:
    return f"{_run(numbers)} {'clutch' if numbers[1] == 1 else 'clutches'}"


def _sum_said(page: TodayPage) -> tuple[str, ...]:
    """The room's sum in words, with what it takes for granted."""
    total = page.nights.sum
    short = total.short_from
    lines = []
    if short is not None:
        lines.append(
            f"{short.night.said()}: {_clutches(short.come_by)} hatched by then, {_tanks(short)}. "
            + ("A tank is likely missing." if short.likely_short else "A tank may be missing.")
        )
    else:
        lines.append("There is a tank for each clutch on every one of these nights.")
    if total.without_figure:
        lines.append(
            f"{total.without_figure} more without a figure: "
            "a temperature or a look at the eggs gives one."
        )
    lines.append("One tank a clutch; ranges leave out what is under one in twenty at either end.")
    return tuple(lines)


def _tanks(night: NightAhead) -> str:
    if night.tanks == 0:
        return "no larval tank ready"
    return f"{night.tanks} larval {'tank' if night.tanks == 1 else 'tanks'} ready or could be"


def _tanks_said(tanks: Sequence[TankAhead]) -> tuple[str, ...]:
    """ "L8 from Wed 25 Nov: scrub, rinse, fill, match"; those that are alike in one line."""
    alike: dict[tuple[Night | None, str], list[str]] = defaultdict(list)
    for tank in tanks:
        alike[tank.from_night, tank.why].append(tank.label)
    in_order = sorted(alike.items(), key=lambda each: (each[0][0] is None, _evening(each[0][0])))
    return tuple(
        f"{', '.join(labels)} not yet: {why}" if night is None
        else f"{', '.join(labels)} from {night.said()}: {why}"
        for (night, why), labels in in_order
    )  # fmt: skip


def _evening(night: Night | None) -> str:
    return "" if night is None else night.evening.isoformat()
