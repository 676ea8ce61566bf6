"""One pair's page in words and its drawing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from hatchery_app.domain.broodstock.pairing import LinkKind
from hatchery_app.domain.broodstock.step_in import StepIn
from hatchery_app.domain.clutch.clutch import ClutchOutcome
from hatchery_app.domain.spawn.drift import Drift, DriftSeen
from hatchery_app.domain.spawn.spawn_rhythm import NestEmptied
from hatchery_app.domain.when import RoomTime, say_date, say_when
from hatchery_app.services.broodstock.pair_page import (
    ClutchLine,
    FedOn,
    OfPair,
    PairPage,
    WaterLine,
)
from hatchery_app.web.broodstock.words_presenter import (
    next_said,
    outcome_said,
    sentence,
    since_said,
)
from hatchery_app.web.drawing import rhythm
from hatchery_app.web.drawing.canvas import Numbers

NAMED = 3  # who could step in, by name, before "and others"
QUANTITIES = {"ph": "pH"}
OUTCOMES = {
    ClutchOutcome.HATCHED: rhythm.Outcome.HATCHED,
    ClutchOutcome.EATEN: rhythm.Outcome.EATEN,
    ClutchOutcome.DROPPED: rhythm.Outcome.DROPPED,
}


@dataclass(frozen=True)
class FishPart:
    """One of the two in words. `step_in` says who could step in were it lost."""

    id: int
    role: str
    label: str
    facts: tuple[tuple[str, str], ...]
    is_gone: bool
    lost_label: str
    step_in: str
    mate_id: int


@dataclass(frozen=True)
class ClutchRow:
    """One clutch in the table of the row."""

    id: int
    name: str
    laid: str
    gap: str
    eggs: str
    ended: str


@dataclass(frozen=True)
class WaterRow:
    """One range of the species beside the tank's water; `stands` is set where it is outside."""

    quantity: str
    wanted: str
    now: str
    stands: str
    source: str


@dataclass(frozen=True)
class ShowPair:
    """All of a pair's page."""

    heading: str
    id: int
    beside: str
    be: str
    lead: str
    is_over: bool
    is_pair: bool
    can_reopen: bool
    lost_id: int | None
    two: tuple[FishPart, FishPart]
    drawn: Markup
    numbers: Numbers | None
    clutches: tuple[ClutchRow, ...]
    clutches_beside: str
    reasons: tuple[str, ...]
    narrows: str
    drifts: tuple[tuple[str, str], ...]
    hatches: tuple[tuple[str, str], ...]
    tank: tuple[tuple[str, str], ...]
    water: tuple[WaterRow, ...]
    has_rota: bool
    fed: tuple[tuple[str, str], ...]


def shown(page: PairPage, room_time: RoomTime) -> ShowPair:
    """The page's words."""
    drawn = _drawing(page, room_time)
    place = page.place.label if page.place else ""
    return ShowPair(
        heading=page.name,
        id=page.pair_id,
        beside=f"{place} · together since {since_said(page.link.since, room_time)}".strip(" ·"),
        be=_be(page, room_time),
        lead=_lead(page),
        is_over=page.is_over,
        is_pair=page.link.kind is LinkKind.PAIR,
        can_reopen=page.is_over and page.ended_by_loss_of is None,
        lost_id=page.ended_by_loss_of,
        two=(
            _part(page.female, "Female", page.male, room_time),
            _part(page.male, "Male", page.female, room_time),
        ),
        drawn=rhythm.rhythm(drawn) if page.clutches else Markup(""),
        numbers=rhythm.numbers(drawn) if page.clutches else None,
        clutches=tuple(_row(line, room_time) for line in reversed(page.clutches)),
        clutches_beside=_clutches_beside(page),
        reasons=page.next.reasons,
        narrows=page.next.narrows,
        drifts=_drifts(page),
        hatches=_hatches(page),
        tank=_tank(page),
        water=tuple(_water(line, room_time) for line in page.water),
        has_rota=page.has_rota,
        fed=_fed(page.fed),
    )


def _be(page: PairPage, room_time: RoomTime) -> str:
    if page.is_over and page.link.until is not None:
        because = page.link.ended_because or "ended"
        return f"{sentence(because)}, {say_when(page.link.until, room_time)}"
    if page.link.kind is LinkKind.KEPT_WITH:
        return "Kept with, not paired"
    if not page.clutches and page.earlier_clutches:
        return f"{page.earlier_clutches} clutches before these records, none since"
    return sentence(next_said(page.next, room_time)) if page.clutches else "No clutch yet"


def _clutches_beside(page: PairPage) -> str:
    said = [f"{len(page.clutches)} in the records"] if page.clutches else []
    if page.earlier_clutches:
        said.append(f"{page.earlier_clutches} before them")
    return ", ".join(said)


def _lead(page: PairPage) -> str:
    open_names = [line.clutch.name for line in page.clutches if line.clutch.is_open]
    if not open_names:
        return ""
    listed = " and ".join(open_names)
    return f"{listed}: open, and watched for the hatch."


def _part(one: OfPair, role: str, other: OfPair, room_time: RoomTime) -> FishPart:
    leaving = one.leaving
    gone = f"{leaving.door}, {say_when(leaving.when, room_time)}" if leaving else ""
    return FishPart(
        id=one.fish_id,
        role=role,
        label=one.label,
        facts=(
            ("sex", one.sex.said()),
            ("species", one.species),
            ("line", one.variety),
            ("length", one.length.said() if one.length else "not measured"),
            ("gone", gone),
            ("now in", "" if leaving else one.tank_label),
            ("barred", "; ".join(one.bars)),
        ),
        is_gone=leaving is not None,
        lost_label=f"{role} lost",
        step_in=_who(one.if_lost),
        mate_id=other.fish_id,
    )


def _who(answer: StepIn | None) -> str:
    """Who could step in, by name, both routes kept apart; "" where the pair has ended."""
    if answer is None:
        return ""
    if answer.is_nobody:
        return "nobody here."
    said = []
    for way in (answer.smaller_mate, answer.larger_female):
        if not way.offered:
            continue
        names = [ranked.candidate.name for ranked in way.offered[:NAMED]]
        rest = len(way.offered) - len(names)
        more = f" and {rest} more" if rest else ""
        said.append(f"{way.route}: {', '.join(names)}{more}")
    return "; ".join(said) + "."


def _drawing(page: PairPage, room_time: RoomTime) -> rhythm.Rhythm:
    """The row of clutches; of a window only what lies ahead is drawn."""
    return rhythm.Rhythm(
        name=f"Clutches of {page.name}",
        clutches=tuple(_mark(line, page.now, room_time) for line in page.clutches),
        today_at=page.now,
        next_from=page.next.earliest,
        next_until=page.next.latest,
    )


def _mark(line: ClutchLine, now: datetime, room_time: RoomTime) -> rhythm.ClutchMark:
    clutch, empty = line.clutch, line.clutch.nest_empty
    laid_at = min(clutch.laid.middle, now)
    empty_at = None if empty is None else max(laid_at, min(empty[0].middle, now))
    return rhythm.ClutchMark(
        laid_at=laid_at,
        empty_at=empty_at,
        outcome=_outcome(line),
        label=clutch.name,
        when=say_when(clutch.laid, room_time),
        eggs_said=clutch.eggs.said() if clutch.eggs.is_known else "",
        gap_days=None if line.gap is None else round(line.gap.days),
    )


def _outcome(line: ClutchLine) -> rhythm.Outcome:
    clutch = line.clutch
    if clutch.outcome is not None:
        return OUTCOMES.get(clutch.outcome, rhythm.Outcome.UNKNOWN)
    empty = clutch.nest_empty
    pulled = empty is not None and empty[1] is NestEmptied.PULLED
    return rhythm.Outcome.PULLED if pulled else rhythm.Outcome.OPEN


def _row(line: ClutchLine, room_time: RoomTime) -> ClutchRow:
    clutch, gap = line.clutch, line.gap
    said = ""
    if gap is not None:
        said = f"{gap.days:.0f} days {gap.counted_from}"
        said += f" ({gap.note})" if gap.note else ""
        said += "; a clutch in between not seen?" if gap.perhaps_missed else ""
        said += "" if gap.counts else "; a first clutch, not counted"
    return ClutchRow(
        clutch.clutch_id,
        clutch.name,
        say_when(clutch.laid, room_time, year=True),
        said,
        clutch.eggs.said() if clutch.eggs.is_known else "not counted",
        outcome_said(clutch),
    )


def _drifts(page: PairPage) -> tuple[tuple[str, str], ...]:
    """The two drifts in words; while both rest on too few, one line says so."""
    both: Sequence[tuple[str, DriftSeen]] = (
        ("clutch size", page.size_drift), ("gaps", page.gap_drift),
    )  # fmt: skip
    return tuple(
        (what, seen.words if seen.drift is not Drift.TOO_FEW else f"Too few to say: {seen.words}")
        for what, seen in both
    )


def _hatches(page: PairPage) -> tuple[tuple[str, str], ...]:
    """How its clutches hatch, every figure with what it rests on."""
    found = page.hatches
    share, lines = found.share, []
    if share.could + share.kept_out:
        clutches = "clutch" if share.could == 1 else "clutches"
        kept = f"; {share.kept_out} with a lamp on kept out" if share.kept_out else ""
        lines.append(("hatched", f"{share.hatched} of {share.could} {clutches} that ended{kept}"))
    if found.days:
        lines.append(("after laying", f"{_days_run(found.days)} ({_of(len(found.days))})"))
    if found.delays_minutes:
        low, high = (round(found.delays_minutes[place]) for place in (0, -1))
        run = f"{low}" if low == high else f"{low}–{high}"
        lines.append(
            ("after lights-off", f"about {found.delay.mean:.0f} min"
             f" (seen {run}, {_of(len(found.delays_minutes))}; drawn to the usual hour)")
        )  # fmt: skip
    if found.taught:
        lines.append(("its own forecast", f"moved by {_of(found.taught)}"))
    if found.kept_out:
        lines.append(("kept out", f"{_of(found.kept_out)} that no such eggs are known to take"))
    return tuple(lines)


def _days_run(days: Sequence[tuple[float, float]]) -> str:
    low, high = f"{min(days)[0]:.1f}", f"{max(longest for _, longest in days):.1f}"
    return f"{low} days" if low == high else f"{low}–{high} days"


def _of(number: int) -> str:
    return "1 hatch" if number == 1 else f"{number} hatches"


def _tank(page: PairPage) -> tuple[tuple[str, str], ...]:
    here = f"{page.place.label}, {page.place.volume_l:.0f} L" if page.place else "not said"
    usual, rule = page.volume, page.species.pair if page.species else None
    said = ""
    if usual is not None and rule is not None and rule.volume_low_l is not None:
        high = rule.volume_high_l or rule.volume_low_l
        said = f"{rule.volume_low_l:.0f}–{high:.0f} L ({usual.said()}; {usual.mark})"
    return (("this tank", here), ("usual for a pair", said))


def _water(line: WaterLine, room_time: RoomTime) -> WaterRow:
    wanted, unit = line.wanted, line.wanted.unit
    low = "" if wanted.low is None else f"{wanted.low:.3g}"
    high = "" if wanted.high is None else f"{wanted.high:.3g}"
    words = f"{low}–{high}" if low and high and low != high else f"up to {high}"
    if low and low == high:
        words = low
    if wanted.high == 0:
        words = "none to be read"
    now = "not read"
    if line.value is not None and line.read_at is not None:
        on = say_date(room_time.local(line.read_at).date())
        now = f"{line.value:.3g} {_kept(line, unit)}".strip() + f", {on}"
    name = QUANTITIES.get(line.quantity, line.quantity.replace("_", " ").capitalize())
    outside = line.stands if line.stands in ("below", "above") else ""
    source = f"{wanted.source}, {wanted.mark}"
    with_unit = words if wanted.high == 0 else f"{words} {unit}".strip()
    return WaterRow(name, with_unit, now, outside, source)


def _kept(line: WaterLine, unit: str) -> str:
    """The unit readings are kept in, where it is not the range's own."""
    return {"salinity": "psu", "nitrite": "mg/L N", "nitrate": "mg/L N"}.get(line.quantity, unit)


def _fed(fed: Sequence[FedOn]) -> tuple[tuple[str, str], ...]:
    return tuple(
        (
            "today" if n == 0 else say_date(each.day),
            "; ".join(
                f"{meal.round.label.lower()}: {meal.food} ({meal.form})" for meal in each.meals
            ),
        )
        for n, each in enumerate(fed)
    )
