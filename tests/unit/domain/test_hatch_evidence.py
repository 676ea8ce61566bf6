"""What is seen of a clutch, in words and in what it leaves possible."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from hatchery_app.domain.clutch.hatch_evidence import (
    HatchWindow,
    LampOn,
    MovedLate,
    NoneBy,
    PartHatched,
    SignSeen,
    said,
    sign_likelihood,
    sign_shows_at,
    still_possible,
)
from hatchery_app.domain.clutch.hatch_window import night_of_laying
from hatchery_app.domain.clutch.thermal_time import Stay
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.species.species import EggLook, Incubation
from hatchery_app.domain.when import Lights, Night, RoomTime, When

ROOM = RoomTime("UTC")
LIGHTS = Lights(time(8), time(20))
DUSK = datetime(2026, 11, 8, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)
SIXTH = HatchWindow(
    Night(date(2026, 11, 8)),
    6,
    DUSK,
    DUSK + 12 * HOUR,
    DUSK + HOUR / 4,
    DUSK + HOUR,
    DUSK + 3 * HOUR,
    "L3",
)


def species(*looks):
    return Incubation(16, 87.3, 9, 3.5, 25, 28, 22, 31, 15, 3, 24, 30, looks=looks)


def test_hatches_begin_after_dark_half_within_the_hour_and_all_within_the_hatch_hours():
    shares = [SIXTH.share_begun(DUSK + hours * HOUR) for hours in (-1, 0, 0.5, 1, 2, 3, 9)]
    assert shares == [0, 0, 0.25, 0.5, 0.75, 1, 1]


def test_the_longest_watch_of_a_night_is_the_one_that_counts():
    watches = (NoneBy(DUSK + HOUR), NoneBy(DUSK + 2 * HOUR))
    assert still_possible(SIXTH, watches) == 0.25
    assert still_possible(SIXTH, ()) == 1


def test_eggs_looked_at_by_day_had_not_hatched_the_night_before():
    assert still_possible(SIXTH, (SignSeen(DUSK + 13 * HOUR, "eyes"),)) == 0


@pytest.mark.parametrize(
    ("sight", "words"),
    [
        (NoneBy(DUSK + 9 * HOUR), "none until 05:00 on night 6"),
        (NoneBy(DUSK + 15 * HOUR), "no hatch by Mon 9 Nov 11:00, after night 6"),
        (NoneBy(DUSK - 9 * HOUR), "no hatch by Sun 8 Nov 11:00"),
        (SignSeen(DUSK, "silver"), "silver eyes seen Sun 8 Nov 20:00"),
        (SignSeen(DUSK, "eyes", seen=False), "no eyes yet Sun 8 Nov 20:00"),
        (PartHatched(SIXTH.night, "a handful"), "a handful hatched on night 6, the rest remains"),
        (LampOn(SIXTH.night), "lamp on all night 6: no hatch in the light"),
        (MovedLate(DUSK), "tile moved Sun 8 Nov 20:00: spreads over more evenings"),
    ],
)
def test_what_was_seen_is_told_in_room_time_and_nights(sight, words):
    assert said(sight, [SIXTH], ROOM) == words


def test_a_species_own_egg_looks_say_when_its_eyes_show():
    look = EggLook("eyes", 0.7, 0.9, "eyes", "made up for the test", "assumed")
    assert sign_shows_at(species(look), "eyes")[0] == pytest.approx(0.8)
    assert sign_shows_at(species(), "eyes")[0] == pytest.approx(0.575)


def test_eyes_are_likely_late_in_incubation_and_unlikely_early():
    shows_at = sign_shows_at(species(), "eyes")
    assert sign_likelihood(True, 0.9, shows_at) > 0.99
    assert sign_likelihood(True, 0.2, shows_at) < 0.01
    assert sign_likelihood(False, 0.2, shows_at) > 0.99


def test_an_unknown_sign_is_refused():
    with pytest.raises(RuleBroken, match="dark, eyes, silver"):
        SignSeen(DUSK, "pink")


def test_laid_in_the_dark_counts_to_that_same_night_and_by_day_to_the_coming_one():
    stay = Stay(DUSK - 48 * HOUR, None, (), 27, LIGHTS, "L3")
    for laid_at in (DUSK - 6 * HOUR, DUSK + 5 * HOUR):
        assert night_of_laying(When.exactly(laid_at), [stay], ROOM) == SIXTH.night
