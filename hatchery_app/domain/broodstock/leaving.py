"""The named doors by which a breeding fish leaves the room."""

from enum import StrEnum


class WayOut(StrEnum):
    """How a fish left. A death or a sale is never a deletion."""

    DIED = "died"
    MISSING = "missing"
    SOLD = "sold"
    PUT_DOWN = "put down"
    GIVEN_AWAY = "given away"
