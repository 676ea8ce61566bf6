"""A tank's thermometer beside its heater: the last reading, and how far off it is."""

from dataclasses import dataclass

from hatchery_app.domain.clutch.thermal_time import Reading

OFF_BY_C = 1.0  # further from its setting than this a heater is looked at: common practice


@dataclass(frozen=True)
class Thermometer:
    """A tank's thermometer: its last reading and the heater's setting, None where not known."""

    tank_id: int
    label: str
    lives: str
    last: Reading | None
    set_to_c: float | None

    @property
    def off_by_c(self) -> float | None:
        """How much warmer (or colder, below 0) than its setting; None where that is near enough."""
        if self.last is None or self.set_to_c is None:
            return None
        off = round(self.last.temperature_c - self.set_to_c, 2)  # thermometers read to a tenth
        return off if abs(off) > OFF_BY_C else None
