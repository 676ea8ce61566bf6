"""May larvae go into this tank? A barred one refuses; one that is not ready is asked about."""

from sqlalchemy import select

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.tank.tank import STEPS_TO_READY, TankState, may_receive, state_now
from hatchery_app.domain.when import When
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank, TankStateSeen
from hatchery_app.services.recording import Book
from hatchery_app.services.records.room import room_now
from hatchery_app.services.stock_book.holding_facts import load_stock
from hatchery_app.services.tank.treatment import treatments_of

NOT_READY = "tank_not_ready"
TREATED = "tank_treated"


def check(book: Book, tank_id: int, when: When, *, field: str = "tank_1") -> None:
    """Raises RuleBroken for a barred tank, Asked ("tank_not_ready") for one not made ready and
    ("tank_treated") for one under treatment then.

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
    if seen is not None:
        _check_state(book, tank, seen, field)
    _ask_of_treatments(book, tank, when, field)


def _check_state(book: Book, tank: Tank, seen: TankStateSeen, field: str) -> None:
    tank_id = tank.fact
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


def _ask_of_treatments(book: Book, tank: Tank, when: When, field: str) -> None:
    found = treatments_of(book.session, (tank.fact,))[tank.fact]
    going = [one for one in found if one.goes_on(when.latest)]
    if not going or book.answers.get(TREATED) == "put":
        return
    said = "; ".join(one.said() for one in going)
    barred = "; ".join(one.barred for one in going if one.barred)
    meanwhile = f" Meanwhile no: {barred}." if barred else ""
    raise Asked(
        f"{tank.label} is under treatment: {said}.{meanwhile} Did they go in all the same?",
        TREATED,
        (("put", "Yes, they are in it"),),
        field=field,
    )
