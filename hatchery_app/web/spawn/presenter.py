"""The words of the pages that record a laying."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from hatchery_app.domain.when import RoomTime, When, say_when
from hatchery_app.services.clutch.clutch_page import PairChoice
from hatchery_app.services.spawn.spawn import LastLook


@dataclass(frozen=True)
class PairLine:
    """One pair to tap."""

    pair_id: int
    name: str
    place: str
    said: str


@dataclass(frozen=True)
class ChoosePage:
    """Which pair laid, in walking order."""

    heading: str
    pairs: tuple[PairLine, ...]


@dataclass(frozen=True)
class LayingPage:
    """The laying of one pair."""

    heading: str
    name: str
    form: Any
    # A form that came back, or one with more to say, opens wide; else one tap saves.
    wide: bool
    looked: str = ""
    looked_said: str = ""


def choose(pairs: Sequence[PairChoice], room_time: RoomTime) -> ChoosePage:
    """The pairs with their last laying in words."""
    return ChoosePage(
        "Who laid?",
        tuple(PairLine(p.pair_id, p.name, p.tank_label, _last(p, room_time)) for p in pairs),
    )


def laying(form: Any, name: str, look: LastLook, room_time: RoomTime) -> LayingPage:
    """The form of one pair's laying, with the look before for eggs that are found now."""
    wide = bool(form.errors or form.asked or form.sentence)
    last = f"last looked {say_when(When.exactly(look.at), room_time)} ({look.what})"
    return LayingPage(f"{name} laid", name, form, wide, look.at.isoformat(), last)


def other(form: Any) -> LayingPage:
    """The form of a laying without a pair."""
    return LayingPage("Eggs without a known pair", "", form, True)


def _last(pair: PairChoice, room_time: RoomTime) -> str:
    if pair.last_laid is None:
        return "no laying written down yet"
    still = ", eggs still there" if pair.has_open_clutch else ""
    return f"last laid {say_when(pair.last_laid, room_time)}{still}"
