"""Which lamp stands over which tank, and when it is lit. Lights are a dated fact: what a forecast
rested on last month is asked again when it is scored."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.when import Lights


@dataclass(frozen=True)
class LampHours:
    """From `since` (UTC) on these hours: of one tank, of a rack, or (neither) of the room."""

    since: datetime
    lights: Lights
    tank_id: int | None = None
    rack: str = ""


@dataclass(frozen=True)
class Lamps:
    """All lamp hours of the room, to be asked for one place and one moment."""

    hours: tuple[LampHours, ...]

    def over(self, at: datetime, *, tank_id: int | None = None, rack: str = "") -> Lights:
        """The hours at a tank then: its own before its rack's before the room's.

        A moment before the first entry is answered by the first one, which the keeper typed when
        the room was set up. Raises NotKnown where no lamp was ever entered.
        """
        own = (h for h in self.hours if tank_id is not None and h.tank_id == tank_id)
        racks = (h for h in self.hours if h.tank_id is None and rack and h.rack == rack)
        rooms = (h for h in self.hours if h.tank_id is None and not h.rack)
        for standing in (own, racks, rooms):
            found = _newest(standing, at)
            if found is not None:
                return found.lights
        raise NotKnown("No lamp hours are entered yet: say when the lights go on and off.")

    def through(
        self, since: datetime, until: datetime | None, *, tank_id: int | None = None, rack: str = ""
    ) -> tuple[tuple[datetime, Lights], ...]:
        """The hours at a tank over a time: what they were at its begin, then each change.

        `until` None: whatever was entered since. Raises NotKnown as `over` does.
        """
        begun = (
            h.since for h in self.hours if since < h.since and (until is None or h.since < until)
        )
        told: list[tuple[datetime, Lights]] = []
        for at in (since, *sorted(set(begun))):
            lights = self.over(at, tank_id=tank_id, rack=rack)
            if not told or told[-1][1] != lights:
                told.append((at, lights))
        return tuple(told)


def _newest(hours: Iterable[LampHours], at: datetime) -> LampHours | None:
    listed = sorted(hours, key=lambda h: h.since)
    begun = [h for h in listed if h.since <= at]
    return begun[-1] if begun else next(iter(listed), None)
