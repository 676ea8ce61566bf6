"""Moving in: a running room enters in one sitting, step by step, in the order that needs least."""

from dataclasses import dataclass

from flask import redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from hatchery_app.database import session as records
from hatchery_app.services.records.moving_in import MovingIn
from hatchery_app.services.records.moving_in import moving_in as find_out


@dataclass(frozen=True)
class WayIn:
    """A form of a step: what its button says, and its page."""

    label: str
    endpoint: str


@dataclass(frozen=True)
class StepLine:
    """One step: what goes in, what may stay unknown, what stands already, and its forms."""

    heading: str
    why: str
    stands: str
    ways: tuple[WayIn, ...]
    stands_at: str
    waits: str


@dataclass(frozen=True)
class MovingInPage:
    """The steps in order; `next_heading` is the first where nothing stands yet."""

    heading: str
    steps: tuple[StepLine, ...]
    next_heading: str


def moving_in() -> Response | str:
    """The steps, each with what stands already. Until it is said to be over (?over=1), every page
    on this device leads back here."""
    if request.args.get("over"):
        session.pop("moving_in", None)
        return redirect(url_for("today.show"))
    session["moving_in"] = True
    return render_template("records/moving_in_show.html", page=_page(find_out(records)))


def _page(found: MovingIn) -> MovingInPage:
    steps = (*_tanks_and_parents(found), *_young(found))
    following = next((step.heading for step in steps if not step.stands), "")
    return MovingInPage("Moving in", steps, following)


def _tanks_and_parents(found: MovingIn) -> tuple[StepLine, ...]:
    waits = "" if found.tanks else "once the tanks stand"
    others = max(found.fish - 2 * found.pairs, 0)
    return (
        StepLine(
            "Tanks", "A whole rack in one line: L1–L12, 40 L. They stand in the order you walk.",
            _said(found.tanks, "tank"), (WayIn("Enter tanks", "tank.add"),), "tank.list", "",
        ),
        StepLine(
            "Pairs as they sit", "Many pairs in one form: who, where, since about when.",
            _said(found.pairs, "pair"), (WayIn("Enter pairs", "broodstock.moving_in"),),
            "broodstock.show", waits,
        ),
        StepLine(
            "Single fish and groups",
            "Fish without a mate, fish whose parents nobody knows, fish that are not told apart.",
            _both(_said(others, "single fish", "single fish"), _said(found.groups, "group")),
            (WayIn("Enter a fish", "broodstock.new_fish"),
             WayIn("Enter a group", "broodstock.new_group")),
            "broodstock.show", waits,
        ),
    )  # fmt: skip


def _young(found: MovingIn) -> tuple[StepLine, ...]:
    waits = "" if found.tanks else "once the tanks stand"
    return (
        StepLine(
            "Eggs that are here now",
            "Tap the pair, then “Between two looks”: laid between the one day and the other. "
            "The nights of the hatch widen with it.",
            _said(found.clutches, "clutch", "clutches"),
            (WayIn("Eggs of a pair", "spawn.choose"),
             WayIn("Of nobody known", "spawn.other")),
            "clutch.list", waits if not found.tanks or found.pairs else "best after the pairs",
        ),
        StepLine(
            "Larvae", "A batch in its tank; the number and the night of its hatch may be unknown.",
            _said(found.batches, "batch", "batches"),
            (WayIn("Enter a batch", "larval_tank.here_before"),), "larval_tank.walk", waits,
        ),
        StepLine(
            "Growing fish",
            "“About 60 fish, 25 mm, hatched about May, parents unknown” will do.",
            _said(found.cohorts, "cohort"), (WayIn("Enter a cohort", "cohort.here_before"),),
            "cohort.list", waits,
        ),
        StepLine(
            "Live food",
            "Vessels kept for live food, and what lives in each; tins and bottles on the shelf.",
            _said(found.cultures, "culture"),
            (WayIn("Cultures and cysts", "live_food.list"),
             WayIn("The shelf", "live_food.show_shelf")),
            "live_food.list", "",
        ),
    )  # fmt: skip


def _said(number: int, one: str, several: str = "") -> str:
    """ "12 tanks", "1 tank"; "" for none."""
    if not number:
        return ""
    return f"{number} {one if number == 1 else several or one + 's'}"


def _both(*parts: str) -> str:
    return ", ".join(part for part in parts if part)
