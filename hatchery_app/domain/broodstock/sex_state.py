"""Sex as a dated state of a fish: what it was thought or proven to be, when, and why.

Clownfish are protandrous: a young fish may become a male first, a male may become a female. So
sex is never a property of the fish but a history, and the role a fish had in a clutch belongs to
the clutch: a check "a dam must be female now" is never applied to the past.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.species.species import SexSystem
from hatchery_app.domain.when import When

CHANGED_BACK, EARLIER_WRONG = "sex_changed_back", "earlier_wrong"


class Sex(StrEnum):
    """What a fish works as. Juvenile: not yet either. Unknown: nobody has said."""

    JUVENILE = "juvenile"
    MALE = "male"
    FEMALE = "female"
    UNKNOWN = "unknown"


class Standing(StrEnum):
    """Thought: by rank, look or hearsay. Proven: by eggs."""

    THOUGHT = "thought"
    PROVEN = "proven"


class SexEvidence(StrEnum):
    """What a sex state rests on, strongest first."""

    LAYING_SEEN = "laying seen"
    FERTILE_EGGS = "fertile eggs"
    PAPILLA = "papilla"
    BEHAVIOUR = "behaviour"
    SIZE_RANK = "size rank"
    SELLER_SAYS = "seller says"


class Role(StrEnum):
    """The part a fish had in one clutch. It belongs to the clutch, not to the fish."""

    DAM = "dam"
    SIRE = "sire"


PROOF = {
    Sex.FEMALE: frozenset({SexEvidence.LAYING_SEEN, SexEvidence.FERTILE_EGGS}),
    Sex.MALE: frozenset({SexEvidence.FERTILE_EGGS}),
}
"""Only eggs prove a sex; a papilla, rank or behaviour makes it thought (common practice)."""


@dataclass(frozen=True)
class SexState:
    """One entry of a fish's history: from `when` on it was thought or proven to be `sex`.

    Refused: a proven state without eggs as its evidence, and a male seen laying.
    """

    sex: Sex
    standing: Standing
    when: When
    evidence: tuple[SexEvidence, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        proof = PROOF.get(self.sex, frozenset())
        if self.standing is Standing.PROVEN and not proof.intersection(self.evidence):
            wanted = " or ".join(sorted(proof)) or "nothing: a fish is proven by its eggs"
            raise RuleBroken(
                f"{self.sex.capitalize()} is not proven by "
                f"{', '.join(self.evidence) or 'no evidence'}; what proves it: {wanted}.",
                field="standing",
            )
        if self.sex is Sex.MALE and SexEvidence.LAYING_SEEN in self.evidence:
            raise RuleBroken("A fish that was seen laying is a female.", field="sex")


@dataclass(frozen=True)
class SexAt:
    """What a fish was held to be at a moment.

    `state` is the newest state that had certainly begun; `perhaps` a newer one whose vague
    beginning may lie before or after the moment.
    """

    state: SexState | None
    perhaps: SexState | None = None

    @property
    def sex(self) -> Sex:
        return self.state.sex if self.state else Sex.UNKNOWN

    @property
    def standing(self) -> Standing:
        return self.state.standing if self.state else Standing.THOUGHT

    @property
    def is_proven(self) -> bool:
        return self.standing is Standing.PROVEN

    @property
    def may_be_female(self) -> bool:
        """True for a fish held, or perhaps already, to be female."""
        return self.sex is Sex.FEMALE or (
            self.perhaps is not None and self.perhaps.sex is Sex.FEMALE
        )

    def said(self) -> str:
        """In words: "female, proven by laying seen", "male, thought (size rank)"."""
        words = _state_said(self.state)
        if self.perhaps is None:
            return words
        return f"{words}; perhaps already {_state_said(self.perhaps)}"


def _state_said(state: SexState | None) -> str:
    if state is None or state.sex is Sex.UNKNOWN:
        return "sex not known"
    if state.standing is Standing.PROVEN:
        proof = [kind for kind in state.evidence if kind in PROOF[state.sex]]
        return f"{state.sex}, proven by {' and '.join(proof)}"
    reason = f" ({', '.join(state.evidence)})" if state.evidence else ""
    return f"{state.sex}, thought{reason}"


def sex_at(states: Iterable[SexState], moment: datetime) -> SexAt:
    """What a fish was held to be at a moment, from its states in any order.

    A state with a vague beginning holds for certain from its latest moment on. Of two states
    begun at the same moment the proven one holds.
    """
    begun = [s for s in states if s.when.earliest <= moment]
    certain = [s for s in begun if s.when.latest <= moment]
    vague = [s for s in begun if s.when.latest > moment]
    state = max(certain, key=_newest, default=None)
    perhaps = max(vague, key=_newest, default=None)
    if perhaps and state and (perhaps.sex is state.sex or perhaps.when.latest < state.when.latest):
        perhaps = None
    return SexAt(state, perhaps)


def _newest(state: SexState) -> tuple[datetime, bool]:
    return state.when.latest, state.standing is Standing.PROVEN


def check_next_state(history: Sequence[SexState], new: SexState, system: SexSystem) -> None:
    """Ask about a change that the species is not known to make; every other history is legal.

    A fish held to be female that is now called male: in a species that is male first this is
    treated as not happening (common practice; the few claims of it are contested), so either the
    first entry or the fish is another one. A proven state that contradicts the species' system
    is asked about, never refused: the keeper's own eyes come before the book.
    """
    before = sex_at(history, new.when.earliest).sex
    odd = {
        SexSystem.PROTANDROUS: {(Sex.FEMALE, Sex.MALE)},
        SexSystem.PROTOGYNOUS: {(Sex.MALE, Sex.FEMALE)},
        SexSystem.SEPARATE: {(Sex.FEMALE, Sex.MALE), (Sex.MALE, Sex.FEMALE)},
    }.get(system, set())
    if (before, new.sex) in odd:
        raise Asked(
            f"This fish stands as {before} and would now be {new.sex}; in this species "
            f"({system}) that is not known to happen. Was the earlier state wrong?",
            question=CHANGED_BACK,
            answers=(
                (EARLIER_WRONG, f"Yes, it was never {before}"),
                ("as_seen", "No, I saw both: keep both"),
            ),
            field="sex",
        )


@dataclass(frozen=True)
class RoleInClutch:
    """That a fish was dam or sire of a clutch laid then. Never checked against its sex now."""

    clutch_id: int
    role: Role
    laid: When
    eggs_were_fertile: bool | None = None


def state_shown_by(part: RoleInClutch) -> SexState:
    """The sex state that a fish's part in a clutch shows, dated by the laying.

    A dam laid, so she is proven. A sire is proven by fertile eggs; of eggs that never developed,
    or are not yet known to, he is thought to be the father by behaviour.
    """
    if part.role is Role.DAM:
        return SexState(Sex.FEMALE, Standing.PROVEN, part.laid, (SexEvidence.LAYING_SEEN,))
    if part.eggs_were_fertile:
        return SexState(Sex.MALE, Standing.PROVEN, part.laid, (SexEvidence.FERTILE_EGGS,))
    return SexState(Sex.MALE, Standing.THOUGHT, part.laid, (SexEvidence.BEHAVIOUR,))


def roles_said(parts: Sequence[RoleInClutch]) -> str:
    """A fish's parts in clutches in the order of laying: "sire of 9 clutches, then dam of 2"."""
    runs: list[tuple[Role, int]] = []
    for part in sorted(parts, key=lambda p: p.laid.earliest):
        if runs and runs[-1][0] is part.role:
            runs[-1] = (part.role, runs[-1][1] + 1)
        else:
            runs.append((part.role, 1))
    said = [f"{role} of {n} {'clutch' if n == 1 else 'clutches'}" for role, n in runs]
    return ", then ".join(said) or "no clutch yet"


def roles_by_size(fish_ids_largest_first: Sequence[int], system: SexSystem) -> dict[int, Sex]:
    """The sex each fish of one group is thought to hold by its size rank alone.

    Common practice for species that are male first: the larger of two becomes the female, the
    next in size is the male, the rest stay juvenile. For every other system: unknown.
    """
    if system is not SexSystem.PROTANDROUS or len(fish_ids_largest_first) < 2:
        return dict.fromkeys(fish_ids_largest_first, Sex.UNKNOWN)
    ranks = (Sex.FEMALE, Sex.MALE)
    return {
        fish_id: ranks[rank] if rank < len(ranks) else Sex.JUVENILE
        for rank, fish_id in enumerate(fish_ids_largest_first)
    }


def may_become(sex: Sex, system: SexSystem) -> frozenset[Sex]:
    """What a fish may yet become. Never when: no date follows from days alone.

    Common practice: in a species that is male first every young fish may become a male, a male
    may become a female, and a female stays one.
    """
    if system is not SexSystem.PROTANDROUS:
        return frozenset()
    return {
        Sex.JUVENILE: frozenset({Sex.MALE, Sex.FEMALE}),
        Sex.MALE: frozenset({Sex.FEMALE}),
        Sex.FEMALE: frozenset[Sex](),
        Sex.UNKNOWN: frozenset({Sex.MALE, Sex.FEMALE}),
    }[sex]
