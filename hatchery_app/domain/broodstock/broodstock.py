"""The breeding fish: single fish and groups without individual identity, and what is known.

Names need not be unique and nothing is erased: a fish that died keeps its clutches, a fish with
descendants cannot be deleted, and a name is told apart by its dates.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from hatchery_app.domain.broodstock.body_length import LengthSeen
from hatchery_app.domain.broodstock.sex_state import SexState
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import When


class Origin(StrEnum):
    """Where a fish came from. Bought: all that is known is what the seller said."""

    WILD = "wild"
    CAPTIVE = "captive bred"
    BOUGHT = "bought, seller says"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class SpeciesOpinion:
    """What somebody held a fish to be, and why: an opinion with evidence, dated.

    `species_key` is the key of the species library, "" for "not known"; `evidence` in the
    keeper's words ("11 dorsal spines", "bought as", "bred here"). `crossed_with` names the
    other species of a cross.
    """

    species_key: str
    when: When
    evidence: tuple[str, ...] = ()
    crossed_with: str = ""


def species_at(opinions: Iterable[SpeciesOpinion], moment: datetime) -> SpeciesOpinion | None:
    """The newest opinion held by that moment."""
    held = [o for o in opinions if o.when.earliest <= moment]
    return max(held, key=lambda o: o.when.latest, default=None)


def dorsal_spines_say(spines: int) -> str:
    """What a count of dorsal spines says between Amphiprion ocellaris and A. percula.

    Common practice: 11 speaks for ocellaris, 10 for percula; the counts overlap, so it is
    evidence and never a verdict. 9 to 12 occur; any other count is asked about.
    """
    if not 9 <= spines <= 12:
        raise Asked(
            f"{spines} dorsal spines is not a count of a clownfish. Count again?",
            question="dorsal_spines",
            answers=(("as_counted", f"Yes, {spines}"),),
            field="spines",
        )
    speaks_for = {11: "Amphiprion ocellaris", 10: "Amphiprion percula"}.get(spines)
    if speaks_for is None:
        return f"{spines} dorsal spines says nothing between ocellaris and percula"
    return f"{spines} dorsal spines speaks for {speaks_for}; the counts overlap"


@dataclass(frozen=True)
class HealthBar:
    """A reason not to breed from or move a fish, from then on, until it is lifted."""

    reason: str
    since: When
    until: When | None = None

    def __post_init__(self) -> None:
        if not self.reason.strip():
            raise RuleBroken("A bar needs its reason.", field="reason")
        if self.until is not None and self.until.latest < self.since.earliest:
            raise RuleBroken("A bar cannot be lifted before it was set.", field="until")

    def holds_at(self, moment: datetime) -> bool:
        """Whether it may hold: a vague end counts from its latest moment on."""
        lifted = self.until is not None and self.until.latest <= moment
        return self.since.earliest <= moment and not lifted


def bars_at(bars: Iterable[HealthBar], moment: datetime) -> tuple[str, ...]:
    """The reasons that bar a fish at a moment, oldest first."""
    holding = sorted((b for b in bars if b.holds_at(moment)), key=lambda b: b.since.earliest)
    return tuple(b.reason for b in holding)


@dataclass(frozen=True)
class Fish:
    """One fish that is known singly. `name` need not be unique; `variety` in the keeper's words.

    `born` is the hatch where known, `arrived` when it came into the room, `gone` when it died,
    was sold or went missing, with `gone_how` the door it left by.
    """

    fish_id: int
    name: str
    arrived: When | None = None
    gone: When | None = None
    gone_how: str = ""
    born: When | None = None
    origin: Origin = Origin.UNKNOWN
    origin_said: str = ""
    variety: str = ""
    opinions: tuple[SpeciesOpinion, ...] = ()
    sexes: tuple[SexState, ...] = ()
    lengths: tuple[LengthSeen, ...] = ()
    bars: tuple[HealthBar, ...] = ()

    def __post_init__(self) -> None:
        if self.born and self.gone and self.gone.latest < self.born.earliest:
            raise RuleBroken(f"{self.name} cannot be gone before it hatched.", field="gone")
        if self.born and self.arrived and self.arrived.latest < self.born.earliest:
            raise RuleBroken(f"{self.name} cannot arrive before it hatched.", field="arrived")

    def is_here_at(self, moment: datetime) -> bool:
        """Whether the fish may be in the room then."""
        came = self.arrived is None or self.arrived.earliest <= moment
        return came and (self.gone is None or self.gone.latest > moment)

    def age_days(self, moment: datetime) -> tuple[int, int] | None:
        """Least and most days since the hatch; None where the hatch is not known or later."""
        if self.born is None or self.born.latest > moment:
            return None
        return (moment - self.born.latest).days, (moment - self.born.earliest).days


@dataclass(frozen=True)
class LeftGroup:
    """So many fish left a group by a named way: "pair formed", "missing", "died", "moved"."""

    when: When
    number: int
    how: str
    fish_ids: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.number < 1:
            raise RuleBroken("At least one fish leaves a group.", field="number")
        if len(self.fish_ids) > self.number:
            raise RuleBroken(f"{self.number} left, {len(self.fish_ids)} were named.")


@dataclass(frozen=True)
class BroodGroup:
    """Fish kept together without individual identity: a number, and how it became fewer.

    Refused: more leaving than there were. A parent may be "two of this group" (by `group_id`).
    """

    group_id: int
    name: str
    number: int
    since: When
    left: tuple[LeftGroup, ...] = field(default=())

    def __post_init__(self) -> None:
        if self.number < 1:
            raise RuleBroken("A group has at least one fish.", field="number")
        going = sum(g.number for g in self.left)
        if going > self.number:
            raise RuleBroken(
                f"{going} fish cannot leave {self.name}: there were {self.number}.",
                field="number",
            )

    def number_at(self, moment: datetime) -> int:
        """How many are left in the group at a moment; a vague leaving counts from its latest."""
        return self.number - sum(g.number for g in self.left if g.when.latest <= moment)

    def accounted_at(self, moment: datetime) -> dict[str, int]:
        """How many left by each way by then; with `number_at` it adds up to the start."""
        ways: dict[str, int] = {}
        for going in sorted(self.left, key=lambda g: g.when.latest):
            if going.when.latest <= moment:
                ways[going.how] = ways.get(going.how, 0) + going.number
        return ways


@dataclass(frozen=True)
class NameHeld:
    """That something (a fish, a pair) went by a name from then until then (None: still)."""

    ident: int
    name: str
    since: When | None
    until: When | None = None

    def fits(self, moment: datetime) -> bool:
        began = self.since is None or self.since.earliest <= moment
        return began and (self.until is None or self.until.latest >= moment)


def who_was(name: str, moment: datetime, held: Sequence[NameHeld]) -> int:
    """Which of several of one name is meant, by the date; asked where two fit.

    Names are compared without case and outer blanks. Refused when nobody went by it then.
    """
    wanted = name.strip().casefold()
    same = [h for h in held if h.name.strip().casefold() == wanted]
    fitting = {h.ident: h for h in same if h.fits(moment)}
    if len(fitting) == 1:
        return next(iter(fitting))
    if not fitting:
        known = " (it stood at other dates)" if same else ""
        raise RuleBroken(f"Nobody went by the name {name.strip()} then{known}.", field="name")
    labels = told_apart(list(fitting.values()))
    raise Asked(
        f"{len(fitting)} went by the name {name.strip()} then. Which is it?",
        question="which_name",
        answers=tuple((str(ident), labels[ident]) for ident in fitting),
        field="name",
    )


def told_apart(held: Sequence[NameHeld]) -> dict[int, str]:
    """A label for each: the name alone where it is the only one, else with years and, if these
    agree, its number."""
    labels: dict[int, str] = {}
    for one in held:
        namesakes = [h for h in held if h.name.casefold() == one.name.casefold()]
        if len(namesakes) == 1:
            labels[one.ident] = one.name
            continue
        years = _years(one)
        if sum(_years(h) == years for h in namesakes) > 1:
            years = f"{years}, no. {one.ident}"
        labels[one.ident] = f"{one.name} ({years})"
    return labels


def _years(held: NameHeld) -> str:
    since = str(held.since.earliest.year) if held.since else "?"
    if held.until is None:
        return f"since {since}"
    until = str(held.until.latest.year)
    return since if since == until else f"{since}–{until}"


def check_may_be_deleted(name: str, clutches: int, namesakes: Sequence[tuple[int, str]]) -> None:
    """Refuse to delete a fish that has descendants; offer to merge it with another entry.

    A death or a sale is not a deletion. `namesakes` are the (id, label) that it may be a second
    entry of. Raises RuleBroken, or Asked when there is something to merge with.
    """
    if clutches == 0:
        return
    sentence = (
        f"{name} has {clutches} {'clutch' if clutches == 1 else 'clutches'} and cannot be "
        "deleted; a death or a sale is entered as such."
    )
    if not namesakes:
        raise RuleBroken(sentence)
    raise Asked(
        f"{sentence} If it is a second entry of one fish, merge it.",
        question="merge_with",
        answers=tuple((str(ident), f"Merge with {label}") for ident, label in namesakes),
    )
