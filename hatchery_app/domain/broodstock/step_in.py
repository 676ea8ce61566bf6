"""Who could step in for a lost mate, along two routes that are kept apart.

A smaller mate: the survivor may then become the female. A larger, ready female: he stays male;
barred once he may have begun to change, because two females fight, some to the death. The same
ranking serves before any loss. It gives reasons and ranges, never a date for a sex change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.broodstock.body_length import CAUTION_RATIO, RANK_RATIO, SizeRatio
from hatchery_app.domain.broodstock.kinship import Kinship
from hatchery_app.domain.broodstock.sex_state import Sex, SexAt
from hatchery_app.domain.species.species import ReportedTime, SexSystem
from hatchery_app.domain.when import When

FIRST_SIGNS_DAYS = 18
"""First signs of change in the gonad, in one male, whatever his size (Casadevall, Delgado,
Colleye, Ber Monserrat & Parmentier 2009, Open Fish Sci. J. 2:55-58, abstract; published)."""
CLOSE_KIN = 0.125
"""Kinship of half sibs, and so F of their young (Wright 1922): from here on kin are close."""
YOUNG_FEMALE_DAYS = 365
"""Females rarely work before 12 to 24 months (common practice; first sex inversion at 12
months in A. polymnus, published)."""

TWO_FEMALES = "Two females fight, some to the death."


class Route(StrEnum):
    """The two ways on, from the side of the fish that is left."""

    SMALLER_MATE = "a smaller mate"
    LARGER_FEMALE = "a ready, larger female"


@dataclass(frozen=True)
class Survivor:
    """The fish that is left, or before a loss the male who would be.

    `alone_since` is when its mate was lost; None with `is_alone` means that this is not known.
    """

    fish_id: int
    name: str
    sex: SexAt
    species_key: str
    variety: str = ""
    is_alone: bool = True
    alone_since: When | None = None

    @property
    def is_female(self) -> bool:
        return self.sex.may_be_female


@dataclass(frozen=True)
class Candidate:
    """A fish beside the survivor, with all that is known of it at the moment of asking.

    `larger_by` is the candidate over the survivor and `smaller_by` the survivor over it (see
    `body_length.size_ratio`); `kinship` is to the survivor, and so the F of their young.
    `mate` names the fish it stands paired with, "" for none. `bars` are reasons not to use it.
    """

    fish_id: int
    name: str
    sex: SexAt
    species_key: str
    larger_by: SizeRatio
    smaller_by: SizeRatio
    kinship: Kinship
    age_days: tuple[int, int] | None = None
    variety: str = ""
    place: str = ""
    mate: str = ""
    bars: tuple[str, ...] = ()

    def size_for(self, route: Route) -> SizeRatio:
        """The ratio the route asks for: larger over smaller if the fish fits."""
        return self.smaller_by if route is Route.SMALLER_MATE else self.larger_by


@dataclass(frozen=True)
class Ranked:
    """One candidate on one route: reasons for its place, and what to be careful of.

    `refused` is why it is not offered at all, "" when it is.
    """

    candidate: Candidate
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    refused: str = ""


@dataclass(frozen=True)
class WayOn:
    """One route with its candidates, best first.

    `barred` says why nobody is offered on it. `offered` are free, `would_part` stand in a pair
    that this would break up, `not_offered` are listed with the reason.
    """

    route: Route
    words: str
    barred: str
    offered: tuple[Ranked, ...]
    would_part: tuple[Ranked, ...]
    not_offered: tuple[Ranked, ...]


@dataclass(frozen=True)
class StepIn:
    """Both routes for one survivor, and what is published about how long a change may take."""

    survivor: Survivor
    smaller_mate: WayOn
    larger_female: WayOn
    change_may_take: tuple[ReportedTime, ...]

    @property
    def is_nobody(self) -> bool:
        """Whether no free fish is offered on either route."""
        return not self.smaller_mate.offered and not self.larger_female.offered


@dataclass(frozen=True)
class _Size:
    """The ratio from which two fish are clearly different, and whether size decides sex."""

    clear_ratio: float
    decides: bool


def step_in(
    survivor: Survivor,
    candidates: Sequence[Candidate],
    *,
    now: datetime,
    system: SexSystem,
    ratio_wanted: float | None = None,
    change_may_take: Sequence[ReportedTime] = (),
) -> StepIn:
    """Rank who could step in beside a survivor, route by route.

    `ratio_wanted` is the species' caution for larger over smaller (1.2 where it has none);
    `change_may_take` what its file reports of the time a change took, shown as text only.
    """
    needs = _Size(ratio_wanted or CAUTION_RATIO, decides=system is SexSystem.PROTANDROUS)
    others = [c for c in candidates if c.fish_id != survivor.fish_id]
    return StepIn(
        survivor,
        _way(Route.SMALLER_MATE, survivor, others, _smaller_barred(survivor, system), needs),
        _way(Route.LARGER_FEMALE, survivor, others, _female_barred(survivor, now, system), needs),
        tuple(change_may_take),
    )


def pairs_with_nobody(by_pair: Mapping[int, StepIn]) -> tuple[int, ...]:
    """The pairs for which no free fish could step in, in the order given."""
    return tuple(pair_id for pair_id, answer in by_pair.items() if answer.is_nobody)


def _smaller_barred(survivor: Survivor, system: SexSystem) -> str:
    if system is SexSystem.PROTANDROUS or survivor.is_female:
        return ""
    return f"This species is not male first ({system}): a smaller mate makes no female of him."


def _female_barred(survivor: Survivor, now: datetime, system: SexSystem) -> str:
    """Why no female may be put to the survivor; the earliest possible loss is what counts."""
    if survivor.is_female:
        return f"{survivor.name} is, or may be, female. {TWO_FEMALES}"
    if system is not SexSystem.PROTANDROUS or not survivor.is_alone:
        return ""
    if survivor.alone_since is None:
        return (
            f"How long {survivor.name} has been without a female is not known: he may have begun "
            f"to change. {TWO_FEMALES}"
        )
    days = (now - survivor.alone_since.earliest).days
    if days < FIRST_SIGNS_DAYS:
        return ""
    at_most = "" if survivor.alone_since.is_exact else "up to "
    return (
        f"{survivor.name} has been without a female for {at_most}{days} days and may have begun "
        f"to change: first signs were seen after {FIRST_SIGNS_DAYS} days in one male "
        f"(Casadevall et al. 2009). {TWO_FEMALES}"
    )


def _way(
    route: Route,
    survivor: Survivor,
    candidates: Sequence[Candidate],
    barred: str,
    needs: _Size,
) -> WayOn:
    ranked = [_beside(route, survivor, c, barred, needs) for c in candidates]
    ranked.sort(key=lambda r: _order(r.candidate, route, needs.clear_ratio))
    fits = [r for r in ranked if not r.refused]
    return WayOn(
        route,
        _words(route, survivor),
        barred,
        tuple(r for r in fits if not r.candidate.mate),
        tuple(r for r in fits if r.candidate.mate),
        tuple(r for r in ranked if r.refused),
    )


def _words(route: Route, survivor: Survivor) -> str:
    name = survivor.name
    if route is Route.LARGER_FEMALE:
        return f"A ready, larger female, so that {name} stays male."
    if survivor.is_female:
        return f"A smaller mate, who becomes or is the male beside {name}."
    return f"A smaller mate, so that {name} may become the female."


def _order(
    candidate: Candidate, route: Route, wanted: float
) -> tuple[int, int, float, int, int, str, int]:
    """Kinship first, so that one not known never stands above one known to be unrelated."""
    size = candidate.size_for(route)
    size_rank = 0 if size.is_clear(wanted) else 1 if size.is_known else 2
    return (
        _kin_rank(candidate.kinship),
        size_rank,
        candidate.kinship.high,
        _sex_rank(candidate.sex, route),
        0 if candidate.age_days else 1,
        candidate.name,
        candidate.fish_id,
    )


def _kin_rank(kinship: Kinship) -> int:
    if kinship.is_unrelated:
        return 0
    if kinship.low >= CLOSE_KIN or (kinship.is_known and kinship.high >= CLOSE_KIN):
        return 3
    return 1 if kinship.is_known else 2


def _sex_rank(sex: SexAt, route: Route) -> int:
    if route is Route.LARGER_FEMALE:
        return 0 if sex.is_proven else 1
    order = {Sex.MALE: 1, Sex.JUVENILE: 2, Sex.UNKNOWN: 3, Sex.FEMALE: 4}
    return 0 if sex.sex is Sex.MALE and sex.is_proven else order[sex.sex]


def _beside(
    route: Route, survivor: Survivor, candidate: Candidate, barred: str, needs: _Size
) -> Ranked:
    size = candidate.size_for(route)
    reasons = (
        f"Size: {size.words}.",
        _kin_said(candidate.kinship),
        f"Sex: {candidate.sex.said()}.",
        _age_said(candidate.age_days),
        _line_said(survivor, candidate),
        f"Now in {candidate.place}." if candidate.place else "Where it is now is not known.",
    )
    refused = barred or _refused(route, survivor, candidate, needs.decides)
    cautions = _cautions(route, survivor, candidate, needs.clear_ratio)
    return Ranked(candidate, reasons, cautions, refused)


def _refused(
    route: Route, survivor: Survivor, candidate: Candidate, size_decides: bool
) -> str:
    """The first reason not to offer a fish, bars before everything else."""
    if candidate.bars:
        return f"Barred: {'; '.join(candidate.bars)}."
    kinds = {candidate.species_key, survivor.species_key}
    if len(kinds) == 2 and "" not in kinds:
        return f"Another species ({candidate.species_key}): the young would be a cross."
    if route is Route.SMALLER_MATE:
        if candidate.sex.may_be_female:
            return f"Is, or may be, female. {TWO_FEMALES}"
    elif candidate.sex.sex is not Sex.FEMALE:
        return "Not known to be a female that is ready."
    if size_decides and candidate.size_for(route).is_larger is False:
        wished = "smaller" if route is Route.SMALLER_MATE else "larger"
        return f"Not the {wished} of the two."
    return ""


def _cautions(
    route: Route, survivor: Survivor, candidate: Candidate, wanted: float
) -> tuple[str, ...]:
    cautions = list(_size_cautions(candidate.size_for(route), wanted))
    if candidate.kinship.is_known and candidate.kinship.high >= CLOSE_KIN:
        cautions.append("As close as half siblings or closer.")
    if not candidate.species_key or not survivor.species_key:
        cautions.append("The species of one of the two is not known.")
    if candidate.mate:
        cautions.append(f"Stands paired with {candidate.mate}: this would break up that pair.")
    if route is Route.LARGER_FEMALE:
        cautions.append("Behaviour may turn before the gonad does: watch both from the first hour.")
        if not candidate.sex.is_proven:
            cautions.append("Thought female, not proven by eggs.")
        if candidate.age_days and candidate.age_days[1] < YOUNG_FEMALE_DAYS:
            cautions.append("Under a year old: females rarely work before 12 to 24 months.")
    return tuple(cautions)


def _size_cautions(size: SizeRatio, wanted: float) -> tuple[str, ...]:
    if not size.is_known:
        return ("Look at the two side by side first: no size to compare.",)
    cautions = []
    if not size.is_clear(wanted):
        cautions.append(
            f"Not clearly different in size: below {wanted:g} is a caution, not a law; "
            f"neighbouring ranks stand about {RANK_RATIO} apart (Buston & Cant 2006)."
        )
    if size.old:
        cautions.append("A length is over half a year old: measure or look again.")
    return tuple(cautions)


def _kin_said(kinship: Kinship) -> str:
    if kinship.is_unrelated:
        return "Kinship: unrelated; expected inbreeding of the young 0."
    return f"Kinship, and expected inbreeding of the young: {kinship.said()}."


def _age_said(age_days: tuple[int, int] | None) -> str:
    if age_days is None:
        return "Age not known."
    low, high = (days / 30.44 for days in age_days)  # mean month of 365.25 days
    if round(low) == round(high):
        return f"Age {low:.0f} months."
    return f"Age {low:.0f}–{high:.0f} months."


def _line_said(survivor: Survivor, candidate: Candidate) -> str:
    species = candidate.species_key or "species not known"
    if not candidate.variety:
        return f"{species}, line not said."
    same = "the same line" if candidate.variety == survivor.variety else "another line"
    return f"{species}, {candidate.variety} ({same})."
