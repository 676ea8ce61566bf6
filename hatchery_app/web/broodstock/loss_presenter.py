"""A loss in words: the one confirming tap, what is pending, and who could step in."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import url_for

from hatchery_app.domain.broodstock.after_loss import Pending, PendingKind
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.step_in import Ranked, Route, StepIn, WayOn
from hatchery_app.domain.when import RoomTime, say_when
from hatchery_app.services.broodstock.after_loss import AfterLossPage, LossOfPair, StepInPage
from hatchery_app.services.broodstock.fish_page import FishPage
from hatchery_app.services.broodstock.stock_record import Leaving
from hatchery_app.services.species.library import library
from hatchery_app.web.broodstock.forms import LeftForm
from hatchery_app.web.when_fields import when_as_typed

NO_DATE = (
    "No date can be said for a change of sex. What is published, each of other fish in other "
    "tanks:"
)


@dataclass(frozen=True)
class ConfirmPage:
    """One tap confirms; the day, the door and what is known of it can be changed before."""

    heading: str
    lead: str
    form: Any
    save: str
    back: str
    left_id: int | None = None
    fish_id: int = 0


@dataclass(frozen=True)
class CandidateLine:
    """One candidate with all that speaks for and against it."""

    id: int
    name: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    refused: str
    pair_url: str


@dataclass(frozen=True)
class RoutePart:
    """One route: who is offered, who stands in a pair, who is not offered and why."""

    heading: str
    words: str
    barred: str
    offered: tuple[CandidateLine, ...]
    would_part: tuple[CandidateLine, ...]
    not_offered: tuple[CandidateLine, ...]


@dataclass(frozen=True)
class Routes:
    """Both routes, and what is published of how long a change may take."""

    routes: tuple[RoutePart, RoutePart]
    no_date: str
    published: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class LossPart:
    """One pair that ended: what is pending, and who could step in beside the other."""

    pair_id: int
    pair_name: str
    be: str
    next_spawn: str
    pending: tuple[tuple[str, str], ...]
    beside: str
    routes: Routes | None


@dataclass(frozen=True)
class AfterPage:
    """The page after a loss."""

    heading: str
    beside: str
    fish_id: int
    left_id: int
    losses: tuple[LossPart, ...]


@dataclass(frozen=True)
class StepInShown:
    """Who could step in beside one fish."""

    heading: str
    lead: str
    fish_id: int
    routes: Routes


def confirm(page: FishPage, form: LeftForm, asked: Mapping[str, str]) -> ConfirmPage:
    """The confirming tap: found dead now, unless something else is said."""
    if asked.get("door") in list(WayOut):
        form.door.data = asked["door"]
    pair = [k.name for k in page.links if page.standing and k.link.pair_id == page.standing.pair_id]
    lead = f"The pair {pair[0]} ends. Open eggs stay open, with their hatch watch." if pair else ""
    return ConfirmPage(
        f"{page.label} is gone", lead, form, "Write it down",
        url_for("broodstock.fish", fish_id=page.fish.fish_id),
    )  # fmt: skip


def correct(page: FishPage, form: LeftForm) -> ConfirmPage:
    """The leaving that stands, to be corrected or taken back."""
    leaving, fish_id = page.record.leaving, page.fish.fish_id
    return ConfirmPage(
        f"{page.label}: how it left", "What was written before stays readable.", form, "Correct",
        url_for("broodstock.after_loss", fish_id=fish_id),
        leaving.left_id if leaving else None, fish_id,
    )  # fmt: skip


def fill(form: LeftForm, leaving: Leaving, room_time: RoomTime) -> None:
    """Put the leaving that stands into its form."""
    form.door.data, form.reason.data = str(leaving.door), leaving.reason
    for name, typed in when_as_typed(leaving.when, room_time).items():
        form[name].data = typed
    form.from_memory.data = leaving.when.from_memory


def after(page: AfterLossPage, room_time: RoomTime) -> AfterPage:
    """The page's words."""
    return AfterPage(
        f"{page.label}: {page.leaving.door}",
        say_when(page.leaving.when, room_time),
        page.fish_id,
        page.leaving.left_id,
        tuple(_loss(loss, room_time) for loss in page.losses),
    )


def _loss(loss: LossOfPair, room_time: RoomTime) -> LossPart:
    since = loss.after.single_since
    be = f"{loss.survivor_label} is single since {say_when(since, room_time)}" if since else ""
    names = {clutch.clutch_id: clutch.name for clutch in loss.open_clutches}
    return LossPart(
        loss.pair_id,
        loss.pair_name,
        be or f"{loss.survivor_label} stands in a new pair",
        loss.after.next_spawn,
        tuple(_pending(part, names) for part in loss.after.pending),
        loss.survivor_label,
        routes(loss.step_in) if loss.step_in is not None else None,
    )


def _pending(part: Pending, names: Mapping[int, str]) -> tuple[str, str]:
    """What is open, and where it leads."""
    if part.kind in (PendingKind.EGGS_TO_HATCH, PendingKind.HATCH_WATCH):
        said = f"{names.get(part.subject_id, 'A clutch')}: {part.sentence}"
        return said, url_for("clutch.show", clutch_id=part.subject_id)
    return part.sentence, url_for("broodstock.fish", fish_id=part.subject_id)


def step_in(page: StepInPage, room_time: RoomTime) -> StepInShown:
    """Who could step in, before a loss or after."""
    if page.mate:
        lead = f"Were {page.mate} lost. Nothing has happened; this is what the records say today."
    elif page.alone_since is not None:
        lead = f"Single since {say_when(page.alone_since, room_time)}."
    else:
        lead = "In no pair, and in none before as far as the records go."
    return StepInShown(f"Beside {page.label}", lead, page.fish_id, routes(page.answer))


def routes(answer: StepIn) -> Routes:
    """Both routes in words."""
    survivor = answer.survivor.fish_id
    return Routes(
        (_route(answer.smaller_mate, survivor), _route(answer.larger_female, survivor)),
        NO_DATE if answer.change_may_take else "",
        tuple((each.words, f"{each.source}, {each.mark}") for each in answer.change_may_take),
    )


def _route(way: WayOn, survivor_id: int) -> RoutePart:
    def lines(ranked: tuple[Ranked, ...]) -> tuple[CandidateLine, ...]:
        return tuple(_candidate(each, way.route, survivor_id) for each in ranked)

    refused = () if way.barred else lines(way.not_offered)
    return RoutePart(
        way.route.capitalize(), way.words, way.barred, lines(way.offered),
        lines(way.would_part), refused,
    )  # fmt: skip


def _candidate(ranked: Ranked, route: Route, survivor_id: int) -> CandidateLine:
    own = ranked.candidate.fish_id
    is_smaller = route is Route.SMALLER_MATE
    female, male = (survivor_id, own) if is_smaller else (own, survivor_id)
    return CandidateLine(
        own,
        ranked.candidate.name,
        tuple(_by_name(reason, ranked.candidate.species_key) for reason in ranked.reasons),
        ranked.cautions,
        _by_name(ranked.refused, ranked.candidate.species_key),
        "" if ranked.refused else url_for("broodstock.new_pair", female=female, male=male),
    )


def _by_name(said: str, species_key: str) -> str:
    """The sentence with the common name of a species in the place of its key."""
    key = species_key.partition(" × ")[0]
    found = library().get(key)
    return said.replace(key, found.common_name) if found is not None else said
