"""How right the forecasts have been: each worked out again from what was known that evening.

The score page and the command take one forecast a clutch, of the evening before its hatch; a
clutch's own page replays every evening.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.failed_hatch import PairShare, pair_share
from hatchery_app.domain.clutch.hatch_forecast import HatchForecast
from hatchery_app.domain.clutch.hatch_score import (
    Scored,
    TenthKept,
    Verdict,
    evening_before,
    said_by,
    tenths_kept,
    verdict,
)
from hatchery_app.domain.clutch.hatch_window import hatch_windows
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.when import Night, RoomTime
from hatchery_app.models.entry import Entry
from hatchery_app.services.clutch.clutch_facts import ClutchFacts
from hatchery_app.services.clutch.clutch_history import ClutchHistory
from hatchery_app.services.clutch.clutch_page import fish_names, pair_names
from hatchery_app.services.clutch.clutch_watch import check_list_of, told_by, watched
from hatchery_app.services.records.room import RoomNow

NEWEST_SCORED = 60  # hatches on the page; the command takes all
NOT_YET_WRITTEN = "not written down by then"
NOT_BY_NIGHT = "this species is not forecast by the night"


@dataclass(frozen=True)
class Evening:
    """One evening's forecast, as of its lights-off; `why_not` where there was none to be had."""

    night: Night
    as_of: datetime
    forecast: HatchForecast | None
    why_not: str = ""


@dataclass(frozen=True)
class Replay:
    """A clutch's evenings from its laying to its hatch, its end, or tonight.

    `is_kept_out`: laying and hatch together are doubted, and teach nothing until confirmed.
    `check_list`: what to look at where it did not hatch when due. `pair_share`: of its pair.
    `came`: the nights of each part, in order; `first` of the first of all.
    """

    clutch: ClutchFacts
    whose: str
    laid_night: Night
    came: tuple[NightSpan, ...]
    evenings: tuple[Evening, ...]
    is_kept_out: bool
    check_list: tuple[str, ...]
    pair_share: PairShare | None
    room_time: RoomTime

    @property
    def first(self) -> NightSpan | None:
        """The nights on which the first of it may have hatched."""
        return self.clutch.first_hatched


@dataclass(frozen=True)
class ClutchScored:
    """What one clutch adds to the score; `why_not` where it adds nothing."""

    clutch_id: int
    name: str
    whose: str
    came: NightSpan
    laid_night: Night
    scored: Scored | None
    why_not: str = ""


@dataclass(frozen=True)
class Score:
    """The score of the room. `clutches` newest first; `skipped` counts reasons; `left_out`
    older hatches that were not looked at."""

    verdict: Verdict | None
    clutches: tuple[ClutchScored, ...]
    tenths: tuple[TenthKept, ...]
    evenings: int
    skipped: tuple[tuple[str, int], ...]
    left_out: int


def replay(
    session: Session, library: Mapping[str, Species], *, room: RoomNow, clutch_id: int,
    now: datetime,
) -> Replay:  # fmt: skip
    """Every evening of one clutch. Raises NotKnown."""
    history = ClutchHistory(session, room, library)
    clutch = history.clutch(clutch_id, history.seq_by(now), now)
    if clutch is None:
        raise NotKnown("That clutch does not stand in this room's records.")
    moments = _evenings(clutch, room, library, now)
    return Replay(
        clutch=clutch,
        whose=_whose(session, [clutch])[clutch.id],
        laid_night=moments[0][0] if moments else Night(clutch.laid.middle.date()),
        came=tuple(sorted({part.nights for part in clutch.hatches})),
        evenings=tuple(_evening(history, clutch_id, night, at) for night, at in moments),
        is_kept_out=bool(clutch.hatches) and told_by(clutch, room, library, now).is_kept_out,
        check_list=check_list_of(clutch, room, library, min(now, _end(clutch, now))),
        pair_share=pair_share(history.ends(clutch.pair_id, now)) if clutch.pair_id else None,
        room_time=room.room_time,
    )


def _end(clutch: ClutchFacts, now: datetime) -> datetime:
    return now if clutch.ending is None else clutch.ending.when.latest


def score(
    session: Session, library: Mapping[str, Species], *, room: RoomNow, now: datetime,
    newest: int | None = NEWEST_SCORED,
) -> Score:  # fmt: skip
    """The room's score over its newest hatches, or all. Worked out once for each new entry."""
    key = (*_stands_at(session), newest)
    if key not in _MEMO:
        _MEMO.clear()
        _MEMO[key] = _score(session, library, room, now, newest)
    return _MEMO[key]


# What was known on an evening never changes, so neither does its forecast: worked out once a
# process, and the whole score once for each new entry.
_MEMO: dict[tuple[object, ...], Score] = {}
_EVENINGS: dict[tuple[object, ...], Evening] = {}
MOST_EVENINGS_KEPT = 20_000


def _stands_at(session: Session) -> tuple[object, ...]:
    """What tells one state of one set of records from another. One statement."""
    bounds = session.execute(
        select(func.max(Entry.seq), func.count(), func.min(Entry.received_at),
               func.max(Entry.received_at))
    ).one()  # fmt: skip
    return (str(session.get_bind()), *bounds)


def _score(
    session: Session, library: Mapping[str, Species], room: RoomNow, now: datetime,
    newest: int | None,
) -> Score:  # fmt: skip
    history = ClutchHistory(session, room, library)
    seq = history.seq_by(now)
    stood = [history.clutch(clutch_id, seq, now) for clutch_id in history.clutch_ids()]
    hatched = [clutch for clutch in stood if clutch is not None and clutch.hatches]
    hatched.sort(key=lambda clutch: (clutch.hatches[0].when.latest, clutch.id), reverse=True)
    kept = hatched if newest is None else hatched[:newest]
    whose = _whose(session, kept)
    clutches, every = [], []
    for clutch in kept:
        found, evenings = _scored(history, clutch, whose[clutch.id], room, library)
        clutches.append(found)
        every += evenings
    scored = [each.scored for each in clutches if each.scored is not None]
    skipped = Counter(each.why_not for each in clutches if each.scored is None)
    return Score(
        verdict=verdict(scored),
        clutches=tuple(clutches),
        tenths=tenths_kept(every),
        evenings=len(every),
        skipped=tuple(skipped.most_common()),
        left_out=len(hatched) - len(kept),
    )


def _scored(
    history: ClutchHistory, clutch: ClutchFacts, whose: str, room: RoomNow,
    library: Mapping[str, Species],
) -> tuple[ClutchScored, list[Scored]]:  # fmt: skip
    """A hatched clutch's forecast of the evening before, and those of all its evenings."""
    came = clutch.first_hatched
    assert came is not None  # only hatched clutches are asked about
    over = max(part.when.latest for part in clutch.hatches)
    moments = _evenings(clutch, room, library, over)
    evenings = [_evening(history, clutch.id, night, at) for night, at in moments
                if night <= came.first]  # fmt: skip
    by_night = {each.night: each for each in evenings}
    before = by_night.get(evening_before(came.first))
    why_not = NOT_BY_NIGHT if not moments else NOT_YET_WRITTEN if before is None else before.why_not
    laid_night = moments[0][0] if moments else came.first
    return (
        ClutchScored(clutch.id, clutch.name, whose, came, laid_night,
                     None if before is None else _beside(before, came), why_not),
        [each for evening in evenings if (each := _beside(evening, came)) is not None],
    )  # fmt: skip


def _beside(evening: Evening, came: NightSpan) -> Scored | None:
    """An evening's forecast beside what came, both counted from its own night 0."""
    forecast = evening.forecast
    said = None if forecast is None else said_by(forecast)
    if forecast is None or said is None or forecast.laid_night is None:
        return None
    first, last = (night.number(forecast.laid_night) for night in (came.first, came.last))
    return Scored(said, first, last)


def _evenings(
    clutch: ClutchFacts, room: RoomNow, library: Mapping[str, Species], until: datetime
) -> list[tuple[Night, datetime]]:
    """The evenings of a clutch with their lights-off, from its laying to its hatch or `until`."""
    species = library.get(clutch.species_key)
    if species is None or species.incubation is None or not clutch.stays:
        return []
    end = clutch.ending.when.latest if clutch.ending is not None else until
    if clutch.hatches:
        end = clutch.hatches[0].when.latest
    last = max((min(end, until) - clutch.laid.earliest).days + 1, 0)
    windows = hatch_windows(
        clutch.laid, clutch.stays, room.room_time, species.incubation, None, last
    )
    return [(w.night, w.dark_from) for w in windows if w.dark_from <= min(end, until)]


def _evening(history: ClutchHistory, clutch_id: int, night: Night, at: datetime) -> Evening:
    """The forecast as of an evening's lights-off, from what had been received by then."""
    seq = history.seq_by(at)
    key = (history.records, clutch_id, at, seq)
    if key not in _EVENINGS:
        if len(_EVENINGS) >= MOST_EVENINGS_KEPT:
            _EVENINGS.clear()
        _EVENINGS[key] = _asked_anew(history, clutch_id, night, at, seq)
    return _EVENINGS[key]


def _asked_anew(
    history: ClutchHistory, clutch_id: int, night: Night, at: datetime, seq: int
) -> Evening:
    clutch = history.clutch(clutch_id, seq, at)
    if clutch is None:
        return Evening(night, at, None, NOT_YET_WRITTEN)
    record = history.record(clutch, seq, at)
    forecast = watched(clutch, history.room, history.library, record, at).forecast
    if forecast is None:
        return Evening(night, at, None, NOT_BY_NIGHT)
    return Evening(night, at, forecast, forecast.unknown or "")


def _whose(session: Session, clutches: Sequence[ClutchFacts]) -> dict[int, str]:
    """Each clutch's pair, else its parents as far as known. Four statements."""
    pairs = pair_names(session, [clutch.pair_id for clutch in clutches])
    names = fish_names(session, [clutch.parents for clutch in clutches])
    return {
        clutch.id: pairs[clutch.pair_id] if clutch.pair_id in pairs else clutch.parents.said(names)
        for clutch in clutches
    }
