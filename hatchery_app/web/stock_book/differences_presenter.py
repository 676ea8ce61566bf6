"""What was different beside a batch's losses, in words for the pages of larvae and of cohorts."""

from collections.abc import Iterable
from dataclasses import dataclass

from hatchery_app.domain.stock_book.survival import say_percent
from hatchery_app.services.stock_book.batch_differences import LossBeside
from hatchery_app.web.drawing.losses_by_age import days_said

MOST_NAMED = 4


@dataclass(frozen=True)
class LossPart:
    """A loss with what differed: (what, here, with the others). `none` where nothing did."""

    what: str
    with_whom: str
    different: tuple[tuple[str, str, str], ...]
    none: str
    not_compared: str


def parts(losses: Iterable[LossBeside]) -> tuple[LossPart, ...]:
    """Each loss in words."""
    return tuple(_part(one) for one in losses)


def _part(one: LossBeside) -> LossPart:
    found, episode = one.beside, one.beside.episode
    fates = " and ".join(str(fate) for fate in episode.fates)
    days = days_said(episode.from_dph, episode.until_dph)
    others = len(found.others)
    kind = "sibling tank" if one.are_siblings else "other batch"
    plural = {1: kind}.get(others, f"{kind}s" if one.are_siblings else "other batches")
    names = f": {', '.join(found.others)}" if others <= MOST_NAMED else ""
    with_whom = f"beside {others} {plural} at that age{names}"
    none = ""
    if not others:
        none = "No other batch was here at that age, so there is nothing to compare with."
    elif not found.different:
        none = f"Nothing recorded of these days differed from the {plural}."
    first, last = episode.window
    return LossPart(
        what=f"{days} dph: {episode.number} {fates}, {say_percent(episode.share)} % of those there",
        with_whom=f"{with_whom}; records of {days_said(first, last)} dph" if others else "",
        different=tuple((str(one.matter), one.here, one.others) for one in found.different),
        none=none,
        not_compared="; ".join(found.not_compared) if others else "",
    )
