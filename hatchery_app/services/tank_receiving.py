"""May larvae go into this tank? A barred one refuses; one that is not ready is asked about."""

from sqlalchemy import select

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank import STEPS_TO_READY, TankState, may_receive, state_now
from hatchery_app.domain.when import When
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank, TankStateSeen
from hatchery_app.services.holding_facts import load_stock
from hatchery_app.services.recording import Book
from hatchery_app.services.room import room_now

NOT_READY = "tank_not_ready"


def check(book: Book, tank_id: int, when: When, *, field: str = "tank_1") -> None:
    """Raises RuleBroken for a barred tank, Asked ("tank_not_ready") for one not made ready.

    A tank of which nobody ever said how it stands is taken at the keeper's word.
    """
    tank = book.find(Tank, tank_id, "That tank does not stand in this room's records.")
    seen = book.session.scalars(
        select(TankStateSeen)
        .where(
            known(), TankStateSeen.tank_id == tank_id,
            TankStateSeen.happened_latest <= when.latest,
        )
        .order_by(TankStateSeen.happened_latest.desc(), TankStateSeen.seq.desc())
        .limit(1)
    ).first()  # fmt: skip
    if seen is None:
        return
    stock = load_stock(book.session, room_now(book.session), tank_ids=(tank_id,))
    left = stock.last_left(tank_id)
    state = state_now(
        seen.state,
        seen.happened_latest,
        lived_in=bool(stock.living_in(tank_id)),
        last_left_at=left,
    )
    if state is TankState.BARRED:
        reason = f" ({seen.reason})" if seen.reason else ""
        raise RuleBroken(f"{tank.label} is barred{reason}: choose another tank.", field=field)
    if not may_receive(state) and book.answers.get(NOT_READY) != "put":
        raise Asked(
            f"{tank.label} is {state}: first {STEPS_TO_READY[state]}. Was it made ready?",
            NOT_READY,
            (("put", "Yes, they are in it"),),
            field=field,
        )
