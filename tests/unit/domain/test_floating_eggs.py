"""Eggs that float hatch within hours at any hour, by their own published durations."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import pytest

from hatchery_app.domain.clutch.floating_eggs import HatchHours, hatch_hours, hours_told
from hatchery_app.domain.clutch.hatch_evidence import NoneBy
from hatchery_app.domain.clutch.learned_readiness import Learned
from hatchery_app.domain.clutch.thermal_time import Reading, Stay
from hatchery_app.domain.species.species import BroodMode
from hatchery_app.domain.species.species_file import load_library, load_species
from hatchery_app.domain.species.species_text import SpeciesRefused
from hatchery_app.domain.when import Lights, RoomTime, When
from tests.builders import floating_species

LIBRARY = load_library([Path(__file__).parents[3] / "hatchery_app" / "species"])
GROUPER = floating_species(LIBRARY)
ROOM = RoomTime("Europe/Lisbon")
LAID = datetime(2026, 11, 20, 21, 0, tzinfo=UTC)


def hours_at(
    temperature_c: float, now: datetime = LAID, laid: When | None = None, evidence=(), learned=None
):
    read = tuple(Reading(LAID + timedelta(hours=6 * n), temperature_c) for n in range(-2, 14))
    stay = Stay(LAID - timedelta(days=3), None, read, None, Lights(time(8), time(20)), "T1")
    assert GROUPER.floating is not None
    return hatch_hours(
        laid=laid or When.exactly(LAID), stays=[stay], room_time=ROOM, eggs=GROUPER.floating,
        learned=learned, evidence=evidence, now=now,
    )  # fmt: skip


def wide(found: HatchHours) -> timedelta:
    return found.last - found.first


# Song et al. 2013, Dev. Reprod. 17(4):369 (published), and the line through both at 23.5 °C.
@pytest.mark.parametrize(("temperature_c", "hours"), [(22.0, 46), (25.0, 35), (23.5, 39.75)])
def test_they_hatch_by_day_or_night_at_their_published_hours(temperature_c, hours):
    found = hours_at(temperature_c, now=LAID + timedelta(hours=30))
    late = (found.middle - LAID) / timedelta(hours=1) - hours
    assert 0 <= late <= 0.5
    assert found.first < found.middle < found.last
    assert wide(found) < timedelta(hours=9)


def test_a_species_file_of_floating_eggs_has_no_night_to_wait_for():
    assert (GROUPER.brood_mode, GROUPER.incubation) == (BroodMode.PELAGIC, None)
    after = GROUPER.text.replace(
        "[incubation]",
        '[incubation]\nwatch_from = { value = 15, unit = "minutes after lights-off", '
        'mark = "assumed", source = "x" }',
    )
    with pytest.raises(SpeciesRefused, match="watch_from"):
        load_species(after, "quill.toml")


def test_a_vague_laying_widens_the_hours_and_a_look_at_whole_eggs_ends_the_early_ones():
    vague = When(LAID - timedelta(hours=5), LAID + timedelta(hours=5), "between two looks")
    exact = hours_at(25.0, now=LAID + timedelta(hours=30))
    found = hours_at(25.0, now=LAID + timedelta(hours=30), laid=vague)
    assert wide(found) > wide(exact)
    looked = exact.middle + timedelta(minutes=30)
    later = hours_at(25.0, now=looked, evidence=[NoneBy(looked)])
    assert later.first >= looked
    assert later.last > exact.last


def test_when_every_hour_has_passed_in_vain_the_eggs_are_to_be_looked_at():
    looked = LAID + timedelta(hours=60)
    found = hours_at(25.0, now=looked, evidence=[NoneBy(looked)])
    assert found.passed
    assert "look at them" in found.said(ROOM)
    unseen = hours_at(25.0, now=looked)
    assert unseen.passed
    assert unseen.said(ROOM).startswith("hatches Sun 22 Nov")


def test_outside_the_water_that_was_watched_there_is_no_figure():
    assert "No figure above 27 °C" in hours_at(29.0, now=LAID + timedelta(hours=30)).said(ROOM)
    bare = replace(GROUPER.floating, no_figure_above_c=30.0)
    assert bare.days_at(29.0) is not None


def told(hours: float, *looked: float):
    read = tuple(Reading(LAID + timedelta(hours=6 * n), 25.0) for n in range(-2, 14))
    stay = Stay(LAID - timedelta(days=3), None, read, None, Lights(time(8), time(20)), "T1")
    return hours_told(
        laid=When.exactly(LAID), stays=[stay], room_time=ROOM, eggs=GROUPER.floating,
        hatched=When.exactly(LAID + timedelta(hours=hours)),
        evidence=[NoneBy(LAID + timedelta(hours=one)) for one in looked],
        now=LAID + timedelta(days=4),
    )  # fmt: skip


def test_a_hatch_teaches_the_hours_between_the_last_whole_eggs_and_the_first_larvae():
    warm_c = 25.0 - GROUPER.floating.t0_c
    found = told(38, 30, 33)
    assert (found.beyond_dd, found.up_to_dd) == pytest.approx((warm_c * 33 / 24, warm_c * 38 / 24))
    unseen = told(38)
    assert (unseen.beyond_dd, unseen.up_to_dd) == pytest.approx((0, warm_c * 38 / 24))


def test_the_rooms_own_floating_eggs_move_the_hours_and_say_so():
    now = LAID + timedelta(hours=30)
    late = told(39, 38)
    usual = hours_at(25.0, now=now)
    assert usual.reasons[0].startswith("from the species default: ")
    own = hours_at(25.0, now=now, learned=Learned(room=((late, late, late),)))
    assert usual.middle < own.middle <= LAID + timedelta(hours=39)
    assert "in this room: 3 hatches" in own.reasons[0]
