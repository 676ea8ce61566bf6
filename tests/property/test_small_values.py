"""What holds for every moment, night, number and unit."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

from hypothesis import assume, given
from hypothesis import strategies as st

from hatchery_app.domain import units
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany, parse
from hatchery_app.domain.units import Unit, convert
from hatchery_app.domain.when import (
    Lights,
    Night,
    RoomTime,
    When,
    dark_window,
    dph,
    is_dark,
    night_just_past,
    night_of,
)

ZONES = [
    RoomTime(name)
    for name in (
        "Europe/Berlin",
        "America/New_York",
        "Australia/Lord_Howe",  # turns by half an hour
        "Asia/Kathmandu",  # never turns, stands a quarter off
        "America/Havana",  # turns at midnight
        "UTC",
    )
]
room_times = st.sampled_from(ZONES)
clocks = st.times().map(lambda clock: clock.replace(second=0, microsecond=0, fold=0))
lamps = (
    st.tuples(clocks, clocks)
    .filter(lambda pair: pair[0] != pair[1])
    .map(lambda pair: Lights(on=pair[0], off=pair[1]))
)
days = st.dates(date(2005, 1, 1), date(2035, 12, 31))
instants = st.datetimes(datetime(2005, 1, 1), datetime(2035, 12, 31), timezones=st.just(UTC))


@given(instants, lamps, room_times)
def test_every_instant_lies_in_the_room_day_of_its_night(
    at: datetime, lights: Lights, room_time: RoomTime
) -> None:
    night = night_of(at, lights, room_time)
    off, on = dark_window(night, lights, room_time)
    day_began = dark_window(night.plus(-1), lights, room_time)[1]
    assert day_began <= at < on
    assert day_began <= off <= on
    assert is_dark(at, lights, room_time) == (off <= at)


@given(days, lamps, room_times)
def test_the_dark_of_a_night_belongs_to_that_night(
    evening: date, lights: Lights, room_time: RoomTime
) -> None:
    night = Night(evening)
    off, on = dark_window(night, lights, room_time)
    assume(off < on)
    for at in (off, off + (on - off) / 2, on - timedelta(microseconds=1)):
        assert night_of(at, lights, room_time) == night
        assert night_just_past(at, lights, room_time) == night
    assert night_of(on, lights, room_time) == night.plus(1)


@given(days, lamps, room_times, st.integers(0, 60))
def test_dph_turns_at_each_lights_on_through_every_clock_change(
    evening: date, lights: Lights, room_time: RoomTime, age: int
) -> None:
    hatch = Night(evening)
    turns = dark_window(hatch.plus(age), lights, room_time)[1]
    assert dph(hatch, turns - timedelta(microseconds=1), lights, room_time) == age
    assert dph(hatch, turns, lights, room_time) == age + 1


@given(days, clocks, lamps, room_times, st.integers(-400, 400))
def test_a_laying_so_many_days_later_has_its_night_so_many_nights_later(
    day: date, clock: time, lights: Lights, room_time: RoomTime, later: int
) -> None:
    moved = day + timedelta(days=later)
    one, other = room_time.planned(day, clock), room_time.planned(moved, clock)
    # Only an hour that never came can carry a time across lights-on.
    assume(room_time.local(one).time() == clock == room_time.local(other).time())
    begin, begin_moved = (room_time.planned(each, lights.on) for each in (day, moved))
    assume(room_time.local(begin).time() == lights.on == room_time.local(begin_moved).time())
    shifted = night_of(other, lights, room_time).number(night_of(one, lights, room_time))
    assert shifted == later


@given(instants, instants, room_times)
def test_clock_changes_never_reorder_instants(
    one: datetime, other: datetime, room_time: RoomTime
) -> None:
    lights = Lights(on=time(10), off=time(22))
    earlier, later = sorted((one, other))
    assert night_of(earlier, lights, room_time) <= night_of(later, lights, room_time)
    apart, _ = When.exactly(earlier).until(When.exactly(later))
    assert apart == later - earlier


@given(days, clocks, room_times)
def test_every_time_of_the_clock_is_read_back_or_asked_about(
    day: date, clock: time, room_time: RoomTime
) -> None:
    try:
        at = room_time.at(day, clock)
    except Asked as asked:
        readings = [room_time.at(day, clock, fold=int(value)) for value, _ in asked.answers]
        assert readings == sorted(readings)
        assert readings[0] < readings[1]
    else:
        wall = room_time.local(at)
        assert (wall.date(), wall.time()) == (day, clock)


@given(instants, instants, instants, instants)
def test_a_hull_holds_both_moments(
    one: datetime, two: datetime, three: datetime, four: datetime
) -> None:
    first = When.between(*sorted((one, two)))
    second = When.between(*sorted((three, four)))
    hull = first.hull(second)
    assert hull.overlaps(first)
    assert hull.overlaps(second)
    assert hull.span >= max(first.span, second.span)


@st.composite
def numbers(draw: st.DrawFn) -> HowMany:
    low, best, high = sorted(draw(st.tuples(*[st.integers(0, 5000)] * 3)))
    return draw(
        st.sampled_from(
            [
                HowMany.counted(best),
                HowMany.about(best),
                HowMany.at_least(low),
                HowMany.estimated(best, low, high),
                HowMany.unknown(),
                HowMany.unknown(at_most=high),
            ]
        )
    )


def truths(number: HowMany) -> st.SearchStrategy[int]:
    """A number of fish that may truly stand behind what was written."""
    ceiling = number.least + 5000 if number.most is None else number.most
    return st.integers(number.least, ceiling)


@given(numbers(), numbers(), st.data())
def test_the_truth_stays_within_the_bounds_of_sums_and_differences(
    one: HowMany, other: HowMany, data: st.DataObject
) -> None:
    true_one, true_other = data.draw(truths(one)), data.draw(truths(other))
    together = one + other
    assert together.least <= true_one + true_other
    assert together.most is None or true_one + true_other <= together.most
    assert (one + other) == (other + one)
    if true_other <= true_one:
        left = one - other
        assert left.least <= true_one - true_other
        assert left.most is None or true_one - true_other <= left.most


@given(numbers(), numbers())
def test_only_counts_make_a_count(one: HowMany, other: HowMany) -> None:
    both_counted = one.basis is Basis.COUNTED is other.basis
    assert ((one + other).basis is Basis.COUNTED) == both_counted


@given(numbers())
def test_what_is_said_reads_back_as_the_same_number(number: HowMany) -> None:
    read = parse(number.said())
    assert (read.best, read.low, read.high, read.basis) == (
        number.best,
        number.low,
        number.high,
        number.basis,
    )


@given(st.text(max_size=40))
def test_whatever_is_typed_is_a_number_or_a_sentence(text: str) -> None:
    try:
        number = parse(text)
    except RuleBroken as broken:
        refused = broken
    else:
        assert number.written == " ".join(text.split())
        return
    assert refused.field == "how_many"
    assert refused.sentence.endswith(".")


figures = st.decimals(-5000, 5000, places=3)


@given(figures, st.sampled_from(sorted(units.UNITS)))
def test_a_figure_comes_back_from_every_unit_as_it_was_typed(figure: Decimal, key: str) -> None:
    unit: Unit = units.UNITS[key]
    for into in units.UNITS.values():
        if into.quantity == unit.quantity:
            there_and_back = convert(convert(figure, unit, into), into, unit)
            assert there_and_back.quantize(Decimal("0.001")) == figure
