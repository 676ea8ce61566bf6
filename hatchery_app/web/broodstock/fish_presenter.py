"""One fish's page in words, and its form filled with what stands."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from hatchery_app.domain.broodstock.kinship import Kinship
from hatchery_app.domain.broodstock.sex_state import SexAt, SexState
from hatchery_app.domain.when import RoomTime, When, say_when
from hatchery_app.services.broodstock.fish_page import FishPage, LinkLine, MadeLine
from hatchery_app.web.broodstock.forms import FishForm, parent_choice
from hatchery_app.web.broodstock.words_presenter import outcome_said, since_said

__all__ = ["fill", "just_now", "shown", "since_said"]

A_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Dated:
    """One dated line: when, and what was so from then on."""

    when: str
    what: str
    more: str = ""
    url_id: int | None = None


@dataclass(frozen=True)
class BarLine:
    """One bar that holds, to be lifted."""

    id: int
    reason: str
    since: str


@dataclass(frozen=True)
class ShowFish:
    """All of a fish's page."""

    heading: str
    id: int
    beside: str
    be: str
    facts: tuple[tuple[str, str], ...]
    is_here: bool
    left_id: int | None
    pair_id: int | None
    pair_name: str
    bars: tuple[BarLine, ...]
    sexes: tuple[Dated, ...]
    species: tuple[Dated, ...]
    lengths: tuple[Dated, ...]
    stays: tuple[Dated, ...]
    links: tuple[Dated, ...]
    made: tuple[Dated, ...]
    roles: str


def just_now(at: datetime) -> When:
    """A tap's own moment."""
    return When.exactly(at)


def shown(page: FishPage, room_time: RoomTime) -> ShowFish:
    """The page's words."""
    fish, leaving = page.fish, page.record.leaving
    standing = [k for k in page.links if page.standing and k.link.pair_id == page.standing.pair_id]
    holding = [b for b in page.record.bars if b.bar.holds_at(page.now)]
    return ShowFish(
        heading=page.label,
        id=fish.fish_id,
        beside=page.place.label if page.place and leaving is None else "",
        be=_be(page, room_time),
        facts=_facts(page, room_time),
        is_here=leaving is None,
        left_id=leaving.left_id if leaving else None,
        pair_id=standing[0].link.pair_id if standing else None,
        pair_name=standing[0].name if standing else "",
        bars=tuple(BarLine(b.bar_id, b.bar.reason, _said(b.bar.since, room_time)) for b in holding),
        sexes=tuple(_sex(state, room_time) for state in reversed(page.history)),
        species=tuple(
            Dated(since_said(o.when, room_time), name, "; ".join(o.evidence))
            for name, o in reversed(page.opinions)
        ),
        lengths=tuple(
            Dated(_said(x.when, room_time), x.said()) for x in reversed(fish.lengths)
        ),
        stays=tuple(
            Dated(since_said(s.since, room_time), s.place.label if s.place else "withdrawn since")
            for s in page.stays
        ),
        links=tuple(_link(line, room_time) for line in page.links),
        made=tuple(_made(line, room_time) for line in page.made),
        roles=page.roles,
    )


def _said(when: When, room_time: RoomTime) -> str:
    return say_when(when, room_time, year=True)


def _be(page: FishPage, room_time: RoomTime) -> str:
    leaving = page.record.leaving
    if leaving is not None:
        reason = f": {leaving.reason}" if leaving.reason else ""
        return f"{leaving.door.capitalize()}, {say_when(leaving.when, room_time)}{reason}"
    if page.single_since is not None:
        return f"Single since {say_when(page.single_since, room_time)}"
    return ""


def _facts(page: FishPage, room_time: RoomTime) -> tuple[tuple[str, str], ...]:
    fish = page.fish
    may = f" · may yet become {' or '.join(page.may_become)}, nobody can say when"
    born = _said(fish.born, room_time) if fish.born else "not known"
    origin = f"{fish.origin}: {fish.origin_said}" if fish.origin_said else str(fish.origin)
    return (
        ("sex", page.sex.said() + (may if page.may_become and fish.gone is None else "")),
        ("species", page.species),
        ("line", fish.variety),
        ("length", fish.lengths[-1].said() if fish.lengths else ""),
        ("origin", origin),
        ("here since", since_said(fish.arrived, room_time) if fish.arrived else ""),
        ("hatched", f"{born}{_age(page)}"),
        ("parents", page.parents_said),
        ("inbreeding", _kin(page.inbreeding)),
        ("clutches", page.roles),
        ("note", page.record.note),
    )


def _age(page: FishPage) -> str:
    age = page.fish.age_days(page.now)
    return f" (at least {age[0]} days old)" if age and page.fish.gone is None else ""


def _kin(kinship: Kinship) -> str:
    return kinship.said()


def _sex(state: SexState, room_time: RoomTime) -> Dated:
    return Dated(_said(state.when, room_time), SexAt(state).said(), state.note)


def _link(line: LinkLine, room_time: RoomTime) -> Dated:
    link = line.link
    what = line.name if link.is_pair else f"kept with {line.mate}, not paired"
    ended = ""
    if link.until is not None:
        ended = f"until {_said(link.until, room_time)}, {link.ended_because or 'ended'}"
    return Dated(since_said(link.since, room_time), what, ended, link.pair_id)


def _made(line: MadeLine, room_time: RoomTime) -> Dated:
    more = [line.parents_said, outcome_said(line.clutch)]
    if line.laying is not None:
        more.append(f"no. {line.laying.number_in_pair} with this mate")
        if line.laying.new_mate and line.laying.days_since_last is not None:
            more.append(f"{line.laying.days_since_last:.0f} days after one with another mate")
    return Dated(
        _said(line.clutch.laid, room_time), line.clutch.name, " · ".join(more),
        line.clutch.clutch_id,
    )  # fmt: skip


def fill(form: FishForm, page: FishPage, room_time: RoomTime) -> None:
    """Put what stands of a fish into its form."""
    fish, parents = page.fish, page.record.parents
    form.name.data, form.variety.data = fish.name, fish.variety
    form.origin.data, form.origin_said.data = fish.origin.value, fish.origin_said
    form.since.data = since_said(fish.arrived, room_time) if fish.arrived else ""
    if fish.born is not None:
        first, last = fish.born.earliest.date(), (fish.born.latest - A_DAY).date()
        form.hatched.data = f"{first}" if first == last else f"{first} to {last}"
    form.mother.data, form.mother_or.data = parent_choice(parents.female)
    form.father.data, form.father_or.data = parent_choice(parents.male)
    form.note.data = page.record.note
