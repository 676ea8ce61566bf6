"""Readings of a tank's water: one by one, or a logger's column in one paste.

Readings stay with the tank. Fish and eggs that move take none of them along.
"""

from hatchery_app.domain.when import When
from hatchery_app.models.tank import Reading, Readings, Tank
from hatchery_app.services import tank
from hatchery_app.services.recording import Book, use_case


@use_case
def record_temperature(book: Book, *, tank_id: int, temperature: str, when: When) -> int:
    """One temperature, as typed in °C or °F. Asks about a likely slip: 265, 79.7 in °C."""
    book.find(Tank, tank_id, tank.NOT_HERE)
    amount = tank.read_temperature(book, temperature)
    act = book.enter(Readings(tank_id=tank_id, quantity=tank.TEMPERATURE), when=when)
    book.session.add(
        Reading(
            readings_seq=act.seq, tank_id=tank_id, quantity=tank.TEMPERATURE, at=when.middle,
            value=float(amount.canonical), typed=amount.typed,
        )
    )  # fmt: skip
    return act.fact
