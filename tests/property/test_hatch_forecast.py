"""What must hold of every hatch forecast, whatever the clutch."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hatchery_app.domain.clutch.hatch_evidence import (
    LampOn,
    MovedLate,
    NoneBy,
    PartHatched,
    SignSeen,
)
from hatchery_app.domain.clutch.hatch_forecast import hatch_forecast, readiness_told
from hatchery_app.domain.clutch.learned_readiness import Learned, ReadinessInterval, readiness
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.clutch.temperature_course import stretches_of
from hatchery_app.domain.clutch.thermal_time import (
    Reading,
    Stay,
    TemperatureCourse,
    degree_days_between,
)
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import Lights, Night, RoomTime, When

OCELLARIS = Incubation(16, 87.3, 9, 3.5, 25, 28, 22, 31, 15, 3, 24, 30)
ROOM = RoomTime("UTC")  # without clock changes, so that a shift by days is exact
DAY_0 = date(2026, 3, 2)
START = datetime(2026, 3, 2, 11, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
HOURS = st.integers(0, 300)
FEW = settings(max_examples=60, deadline=None)

temperatures = st.lists(st.floats(24, 30), min_size=1, max_size=20)
lamps = st.builds(
    lambda on, hours: Lights(time(on), time((on + hours) % 24)),
    st.integers(6, 11),
    st.integers(10, 14),
)
sights = st.one_of(
    st.builds(lambda hour: NoneBy(START + hour * HOUR), HOURS),
    st.builds(
        lambda hour, sign, seen: SignSeen(START + hour * HOUR, sign, seen),
        HOURS,
        st.sampled_from(["dark", "eyes", "silver"]),
        st.booleans(),
    ),
    st.builds(lambda number: LampOn(Night(DAY_0 + number * DAY)), st.integers(0, 12)),
    st.builds(lambda number: PartHatched(Night(DAY_0 + number * DAY)), st.integers(4, 10)),
    st.builds(lambda hour: MovedLate(START + hour * HOUR), HOURS),
)


@st.composite
def clutches(draw):
    """Everything a forecast is asked with."""
    span = draw(st.integers(0, 48)) * HOUR
    every = draw(st.integers(3, 40)) * HOUR
    readings = tuple(
        Reading(START + n * every, temperature_c)
        for n, temperature_c in enumerate(draw(temperatures))
    )
    stay = Stay(START - DAY, None, readings, draw(st.floats(25, 28)), draw(lamps), "A")
    return {
        "laid": When(START, START + span),
        "stays": [stay],
        "room_time": ROOM,
        "species": OCELLARIS,
        "evidence": draw(st.lists(sights, max_size=3)),
        "now": START + draw(HOURS) * HOUR,
    }


def shifted_sight(sight, days):
    if isinstance(sight, LampOn | PartHatched):
        return type(sight)(sight.night.plus(days))
    if isinstance(sight, SignSeen):
        return SignSeen(sight.at + days * DAY, sight.sign, sight.seen)
    return type(sight)(sight.at + days * DAY)


def shifted(clutch, days):
    (stay,) = clutch["stays"]
    readings = tuple(Reading(r.at + days * DAY, r.temperature_c) for r in stay.readings)
    moved = Stay(
        stay.from_at + days * DAY, None, readings, stay.set_point_c, stay.lights, stay.name
    )
    return {
        **clutch,
        "laid": clutch["laid"].shift(days * DAY),
        "stays": [moved],
        "evidence": [shifted_sight(sight, days) for sight in clutch["evidence"]],
        "now": clutch["now"] + days * DAY,
    }


@FEW
@given(clutches(), st.integers(1, 500))
def test_shifting_every_input_by_days_shifts_every_night_by_as_many(clutch, days):
    before, after = hatch_forecast(**clutch), hatch_forecast(**shifted(clutch, days))
    assert [each.night.plus(days) for each in before.nights] == [n.night for n in after.nights]
    assert [each.chance for each in before.nights] == pytest.approx(
        [each.chance for each in after.nights], abs=1e-9
    )
    assert [each.watch_from + days * DAY for each in before.nights] == [
        each.watch_from for each in after.nights
    ]


@FEW
@given(clutches())
def test_chances_are_never_below_nothing_and_never_above_one_together(clutch):
    answer = hatch_forecast(**clutch)
    assert all(0 <= each.chance <= 1 for each in answer.nights)
    total = sum(each.chance for each in answer.nights) + answer.chance_beyond
    nothing_left = answer.unknown is not None
    assert total == pytest.approx(0 if nothing_left else 1)


@FEW
@given(clutches(), sights)
def test_later_evidence_never_moves_chance_to_a_night_already_ruled_out(clutch, sight):
    clutch = {**clutch, "evidence": [s for s in clutch["evidence"] if not_a_part(s)]}
    before = hatch_forecast(**clutch)
    after = hatch_forecast(**{**clutch, "evidence": [*clutch["evidence"], sight]})
    moved = any(isinstance(s, MovedLate) for s in [sight])
    ruled_out = {n.night for n in before.nights if n.chance == 0 and (n.lamp_on or not moved)}
    watched = [s.at for s in clutch["evidence"] if isinstance(s, NoneBy) and s.at <= clutch["now"]]
    past = {n.night for n in before.nights if watched and n.watch_until <= max(watched)}
    again = {each.night for each in after.nights if each.chance > 0}
    lit_anew = isinstance(sight, LampOn)
    assert not again & past
    assert not again & (set() if lit_anew or not not_a_part(sight) else ruled_out)


def not_a_part(sight):
    return not isinstance(sight, PartHatched)


@FEW
@given(clutches())
def test_every_night_watched_to_its_end_in_vain_has_no_chance(clutch):
    watch = NoneBy(clutch["now"])
    answer = hatch_forecast(**{**clutch, "evidence": [*clutch["evidence"], watch]})
    assert all(n.chance == 0 for n in answer.nights if n.watch_until <= clutch["now"])


@FEW
@given(clutches(), st.integers(3, 12))
def test_the_thermal_time_a_hatch_teaches_lies_in_the_interval_of_its_own_night(clutch, number):
    clutch = {**clutch, "laid": When.exactly(START), "evidence": [], "now": START + 20 * DAY}
    nights = {each.number: each for each in hatch_forecast(**clutch).nights}
    told = readiness_told(hatched=NightSpan.sure(nights[number].night), **clutch)
    before = readiness_told(hatched=NightSpan.sure(nights[number - 1].night), **clutch)
    after = readiness_told(hatched=NightSpan.sure(nights[number + 1].night), **clutch)
    assert told.beyond_dd < told.up_to_dd
    assert before.up_to_dd >= told.beyond_dd  # neighbours meet, or overlap by their errors
    assert told.up_to_dd >= after.beyond_dd


@FEW
@given(st.floats(60, 100), st.floats(3, 15), st.integers(1, 6))
def test_a_hatch_teaches_only_its_interval(middle, width, number):
    """Readiness moves towards the interval, never past its far end."""
    interval = ReadinessInterval(middle - width / 2, middle + width / 2)
    default = readiness(OCELLARIS, None).mean_dd
    mean = readiness(OCELLARIS, Learned(pair=(interval,) * number)).mean_dd
    low, high = min(interval.beyond_dd, default), max(interval.up_to_dd, default)
    assert low - 0.5 <= mean <= high + 0.5
    if interval.beyond_dd > default + 1:
        assert mean > default
    if interval.up_to_dd < default - 1:
        assert mean < default


@FEW
@given(st.floats(0, 40), st.floats(0, 40), st.floats(0, 30), st.floats(0.01, 0.99))
def test_thermal_time_of_a_line_is_the_sum_of_its_parts(from_c, until_c, t0_c, cut):
    middle_c = from_c + (until_c - from_c) * cut
    whole = degree_days_between(1, from_c, until_c, t0_c)
    before = degree_days_between(cut, from_c, middle_c, t0_c)
    after = degree_days_between(1 - cut, middle_c, until_c, t0_c)
    assert whole == pytest.approx(before + after, abs=1e-9)


@FEW
@given(clutches(), HOURS, HOURS)
def test_thermal_time_never_runs_backwards(clutch, one, other):
    end = START + 320 * HOUR
    course = TemperatureCourse(stretches_of(clutch["stays"], START, end, clutch["now"]), 16)
    first, last = sorted((one, other))
    earlier = course.thermal_and_error_at(START + first * HOUR)
    later = course.thermal_and_error_at(START + last * HOUR)
    assert earlier[0] <= later[0] + 1e-9
    assert earlier[1] <= later[1] + 1e-9
