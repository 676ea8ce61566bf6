"""The words for a clutch of eggs: what can be seen on it, and how it can end."""

from enum import StrEnum

from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.survival import say_percent


class CheckKind(StrEnum):
    """What one look at a clutch can say."""

    SIGN = "sign"
    EGGS = "eggs counted"
    LOSSES = "losses"
    FUNGUS = "fungus"
    WATCHED_NONE = "watched, none hatched"
    COVERED = "covered dark"
    LAMP_ON = "lamp on all night"
    LOOKS_WELL = "looks well"
    HOLDING = "seen holding"


class Sign(StrEnum):
    """A sign of age by eye, in the order in which eggs show them."""

    COLOUR = "colour"
    DARK = "dark"
    EYES = "eyes"
    SILVER = "silver"


class EggMove(StrEnum):
    """Why a clutch is where it is."""

    LAID = "laid"
    PULLED = "pulled"
    GIVEN = "given to another pair"
    MOVED = "moved"


class HatchMethod(StrEnum):
    """How a part of a clutch came to hatch."""

    LEFT = "left with the parents"
    PULLED = "pulled"
    MOVED_LATE = "moved late"


class ClutchOutcome(StrEnum):
    """How a clutch ended. Every clutch of a pair stands in its row, failures included."""

    HATCHED = "hatched"
    EATEN = "eaten"
    DROPPED = "dropped"
    FUNGUS = "lost to fungus"
    DID_NOT_HATCH = "did not hatch"
    GIVEN_UP = "given up"
    DISCARDED = "discarded"
    BROOD_LOST = "brood lost (eaten or dropped)"

    @property
    def is_of_eggs(self) -> bool:
        """Whether eggs on a surface can end so; a brood that a parent carries is only lost."""
        return self is not ClutchOutcome.BROOD_LOST


class Incubated(StrEnum):
    """Whether laying and hatch together can be, as asked when the hatch was written down.

    What is doubted teaches nothing of the eggs' thermal time until the keeper confirms it.
    """

    ORDINARY = "ordinary"
    DOUBTED = "doubted"
    CONFIRMED = "confirmed"


def eggs_left_said(first: HowMany, left: HowMany) -> str:
    """Eggs left of those counted first: "about 30 of about 200, about 15 %".

    It is eggs left and nothing else: no hatch rate, and not how many were fertilised. Where more
    are left than were counted first, the first count was too low and no share is said.
    """
    if not left.is_known and not left.least:
        return f"“{left.written}”" if left.written else ""
    if not first.best:
        return left.said()
    if left.best is None:
        share = f", at least {say_percent(left.least / first.best)} %"
        return f"{left.said()} of {first.said()}" + (share if left.least <= first.best else "")
    if left.best > first.best:
        return f"{left.said()}, more than the {first.said()} at first: that count was too low"
    about = "" if {first.basis, left.basis} == {Basis.COUNTED} else "about "
    said = f"{left.said()} of {first.said()}, {about}{say_percent(left.best / first.best)} %"
    if about and left.most is not None and first.least and first.most:
        low, high = left.least / first.most, min(1.0, left.most / first.least)
        said += f" ({say_percent(low)}–{say_percent(high)} %)"
    return said
