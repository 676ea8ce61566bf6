"""Lengths sampled: read as pasted, spread, weight, and the day they are of sale size."""

from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.broodstock.body_length import LengthKind
from hatchery_app.domain.cohort.length_sample import (
    LengthSample,
    mean_weight,
    parse_lengths,
    sale_size_days,
)
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.when import RoomTime, When

DAY_ONE = datetime(2026, 10, 1, 12, tzinfo=UTC)
LISBON = RoomTime("Europe/Lisbon")


def sample(day: float, *lengths: float, **facts: object) -> LengthSample:
    return LengthSample(When.exactly(DAY_ONE + timedelta(days=day)), lengths, **facts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("pasted", "lengths_mm"),
    [
        ("21 23 22.5", (21, 23, 22.5)),
        ("21, 23, 22", (21, 23, 22)),
        ("21,23,22", (21, 23, 22)),
        ("21,5 22,5", (21.5, 22.5)),
        ("21\n23\n22", (21, 23, 22)),
        ("0.8 0.9 in", (20.32, 22.86)),
        ("2.1 cm; 2.3 cm", (21, 23)),
        ("21mm 23mm", (21, 23)),
    ],
)
def test_lengths_are_read_as_they_are_pasted(pasted: str, lengths_mm: tuple[float, ...]) -> None:
    assert parse_lengths(pasted) == pytest.approx(lengths_mm)


def test_a_comma_that_can_mean_two_things_is_refused_with_both_ways_to_write_it() -> None:
    with pytest.raises(RuleBroken, match=r"21\.23 or 21 23"):
        parse_lengths("21,23")


def test_a_length_far_off_the_others_is_asked_about_once() -> None:
    with pytest.raises(Asked) as asked:
        parse_lengths("21 225 22")
    assert asked.value.question == "odd_length"
    assert parse_lengths("21 225 22", answers={"odd_length": "as typed"}) == (21, 225, 22)


def test_no_length_and_one_beyond_sense_are_refused() -> None:
    with pytest.raises(RuleBroken):
        sample(0)
    with pytest.raises(RuleBroken, match="cannot be"):
        sample(0, 700)


def test_weight_comes_from_the_scale_before_the_law_and_the_law_keeps_to_its_lengths() -> None:
    weighed = sample(0, 21, 22, weighed_g=6.0, weighed_fish=20)
    assert mean_weight(weighed, "amphiprion_clarkii").weight_g == pytest.approx(0.3)
    by_law = mean_weight(sample(0, 16.0), "amphiprion_ocellaris").weight_g
    assert by_law == pytest.approx(0.1, rel=0.01)  # Iovino et al.: 16 mm, 0.1 g
    assert mean_weight(sample(0, 12, 20), "amphiprion_ocellaris").weight_g is None
    assert mean_weight(sample(0, 20), "amphiprion_clarkii").weight_g is None
    standard = sample(0, 20, kind=LengthKind.STANDARD)
    assert "total length" in mean_weight(standard, "amphiprion_ocellaris").why


def test_half_of_steadily_growing_fish_reach_the_size_on_the_day_the_mean_does() -> None:
    steady = [sample(day, 15 + day / 4, 16 + day / 4, 17 + day / 4) for day in (0, 10, 20)]
    half, most = sale_size_days(steady, 25, LISBON)
    # The mean is 16 mm on day 0 and grows 0.25 mm a day: 25 mm on day 36.
    assert half.likely == (DAY_ONE + timedelta(days=36)).date()
    assert half.carried_days == 16
    assert half.low is not None
    assert half.high is not None
    assert half.low < half.likely < half.high
    # 90 % are over when the mean is 1.28 standard deviations (1 mm each) beyond it.
    assert most.likely == (DAY_ONE + timedelta(days=41)).date()


def test_a_size_inside_what_was_sampled_is_not_carried_on() -> None:
    steady = [sample(day, 15 + day / 2, 16 + day / 2, 17 + day / 2) for day in (0, 10, 20)]
    (half,) = sale_size_days(steady, 22, LISBON, (0.5,))
    assert half.carried_days == 0
    assert not half.is_carried


@pytest.mark.parametrize(
    ("samples", "why"),
    [
        ([], "3 or more measured fish"),
        ([sample(0, 15, 16, 17)], "days apart"),
        ([sample(0, 15, 16, 17), sample(3, 16, 17, 18)], "days apart"),
        ([sample(0, 15, 16), sample(20, 20, 21)], "3 or more measured fish"),
        ([sample(0, 15, 16, 17), sample(20, 15, 16, 17)], "no growth"),
        ([sample(0, 15, 16, 17), sample(10, 15.2, 16.2, 17.2)], "too far past"),
        ([sample(0, 15, 16, 17), sample(20, 20, 21, 22, by_eye=True)], "days apart"),
        (
            [sample(0, 15, 16, 17), sample(20, 20, 21, 22, kind=LengthKind.STANDARD)],
            "days apart",
        ),
    ],
)
def test_too_little_to_go_by_gives_no_day_and_says_why(
    samples: list[LengthSample], why: str
) -> None:
    for day in sale_size_days(samples, 40, LISBON):
        assert day.likely is None
        assert why in day.unknown


def test_a_sample_says_its_number_its_mean_its_range_and_its_spread() -> None:
    assert sample(0, 22, 25, 19, 30, 27, 24, 21, 33, 26, 23).said() == (
        "10 fish, mean 25.0 mm (19–33), spread 17 %"
    )
    assert sample(0, 25, by_eye=True).said() == "one fish of 25 mm by eye"
    assert sample(0, 20, 22).under(21) == 1
