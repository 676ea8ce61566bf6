"""The list of the broodstock in words, moving in, and groups."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from hatchery_app.domain.broodstock.rota import Rota
from hatchery_app.domain.when import RoomTime, say_when
from hatchery_app.services.broodstock.broodstock import BroodstockList, EndedRow, FishRow, PairRow
from hatchery_app.services.broodstock.broodstock_choices import Choices
from hatchery_app.services.broodstock.group import GroupPage
from hatchery_app.services.broodstock.pairs_moving_in import PairLine
from hatchery_app.services.species.library import library
from hatchery_app.web.broodstock.forms import LINES_OFFERED, MovingInForm, RotaForm
from hatchery_app.web.broodstock.words_presenter import (
    days_since_said,
    next_said,
    outcome_said,
    since_said,
)


@dataclass(frozen=True)
class Line:
    """One line of the walk: where, who, and what is so, `be` standing out."""

    id: int
    place: str
    name: str
    said: str
    more: str = ""
    be: str = ""


@dataclass(frozen=True)
class ListPage:
    """The broodstock. `note` says for how many pairs no fish could step in."""

    heading: str
    pairs: tuple[Line, ...]
    note: str
    single: tuple[Line, ...]
    groups: tuple[Line, ...]
    ended: tuple[Line, ...]
    gone: tuple[Line, ...]


@dataclass(frozen=True)
class MovingInPage:
    """The lines of moving in, each with its sentences."""

    heading: str
    form: Any
    lines: tuple[tuple[int, PairLine, dict[str, str]], ...]
    tanks: tuple[str, ...]
    species: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ShowGroup:
    """One group in words."""

    heading: str
    id: int
    beside: str
    facts: tuple[tuple[str, str], ...]
    clutches: tuple[tuple[int, str, str], ...]
    can_pair: bool


def listed(answer: BroodstockList, room_time: RoomTime) -> ListPage:
    """The list's words."""
    nobody = sum(row.has_nobody for row in answer.pairs)
    lacking = f" · {nobody} with nobody to step in" if nobody else ""
    return ListPage(
        "Broodstock",
        pairs=tuple(_pair(row, room_time) for row in answer.pairs),
        note=f"in walking order{lacking}",
        single=tuple(_fish(row) for row in answer.single),
        groups=tuple(
            Line(row.group_id, row.place.label if row.place else "–", row.name,
                 f"{row.number} fish, not told apart")
            for row in answer.groups
        ),
        ended=tuple(_ended(row, room_time) for row in answer.ended),
        gone=tuple(
            Line(row.fish_id, "", row.label,
                 f"{row.gone_how}, {since_said(row.gone, room_time)}" if row.gone else "")
            for row in answer.gone
        ),
    )  # fmt: skip


def _pair(row: PairRow, room_time: RoomTime) -> Line:
    last = "no clutch written down"
    if row.earlier_clutches:
        last = f"{row.earlier_clutches} clutches before these records, none since"
    if row.last is not None:
        days = days_since_said(row.next)
        last = f"{row.last.name}: {outcome_said(row.last)}" + (f" · {days}" if days else "")
    return Line(
        row.pair_id,
        row.place.label if row.place else "–",
        row.name,
        last,
        next_said(row.next, room_time) if row.last is not None else "",
        "nobody to step in" if row.has_nobody else "",
    )


def _fish(row: FishRow) -> Line:
    said = [row.sex.said(), row.species]
    if row.kept_with:
        said.append(f"kept with {row.kept_with}, not paired")
    return Line(
        row.fish_id,
        row.place.label if row.place else "–",
        row.label,
        " · ".join(said),
        be=f"barred: {'; '.join(row.bars)}" if row.bars else "",
    )


def _ended(row: EndedRow, room_time: RoomTime) -> Line:
    because = row.because or "ended"
    return Line(
        row.pair_id, "", row.name, f"{because}, {say_when(row.until, room_time, year=True)}",
        be="eggs still open" if row.has_open_clutch else "",
    )  # fmt: skip


def moving_in(form: MovingInForm, lines: Sequence[PairLine], offered: Choices) -> MovingInPage:
    """The form of moving in with what was typed and what is wrong with it."""
    return MovingInPage(
        "Pairs as they sit",
        form,
        tuple((n, lines[n], form.wrong.get(n, {})) for n in range(LINES_OFFERED)),
        tuple(offered.tanks.values()),
        tuple(offered.species.items()),
    )


def fill_rota(form: RotaForm, rota: Rota) -> None:
    """Show the rota that stands."""
    form.dry.data, form.frozen.data = ", ".join(rota.dry), ", ".join(rota.frozen)
    form.fresh.data, form.meals_a_day.data = ", ".join(rota.fresh), str(rota.meals_a_day)


def group(answer: GroupPage, room_time: RoomTime) -> ShowGroup:
    """One group's words."""
    species = library().get(answer.species_key)
    ways = ", ".join(f"{n} {how}" for how, n in answer.accounted.items())
    return ShowGroup(
        heading=answer.name,
        id=answer.group_id,
        beside=answer.place.label if answer.place else "",
        facts=(
            ("now", f"{answer.number} fish, not told apart"),
            ("at first", f"{answer.number_at_first}, {since_said(answer.since, room_time)}"),
            ("since then", ways),
            ("species", species.common_name if species else "not known"),
        ),
        clutches=tuple(
            (c.clutch_id, f"{c.name}, {say_when(c.laid, room_time)}",
             f"{said} · {outcome_said(c)}")
            for c, said in answer.clutches
        ),
        can_pair=answer.number >= 2,
    )  # fmt: skip
