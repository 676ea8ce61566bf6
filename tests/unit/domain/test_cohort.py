"""A cohort: what is promised and set aside, when it hatched as far as said, how thick it stands."""

from datetime import date

import pytest

from hatchery_app.domain.cohort.cohort import (
    Aside,
    Hold,
    SetApart,
    StockingDensity,
    check_may_be_held,
    check_may_be_sold,
    free_to_sell,
    not_for_breeding,
    parse_hatched,
)
from hatchery_app.domain.cohort.free_to_sell import OfSaleSize
from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany

TODAY = date(2026, 11, 24)


def test_every_fish_stands_under_one_term_so_a_held_small_fish_is_taken_off_once() -> None:
    free = free_to_sell(
        HowMany.counted(20),
        [Hold(5)],
        [SetApart(Aside.BELOW_SALE_SIZE, 20), SetApart(Aside.KEPT, 2)],
    )
    assert (free.held, free.kept, free.below_sale_size, free.free) == (5, 2, 13, 0)
    assert free.promised_too_many == 0


def test_more_held_than_are_alive_is_said_as_too_many_promised() -> None:
    free = free_to_sell(HowMany.counted(10), [Hold(8), Hold(4)], [])
    assert (free.free, free.promised_too_many) == (0, 2)


def test_all_set_aside_are_not_for_sale_whatever_their_number() -> None:
    apart = [SetApart(Aside.QUARANTINE, None, "new system")]
    free = free_to_sell(HowMany.unknown(), [], apart)
    assert free.free == 0
    with pytest.raises(RuleBroken, match="new system"):
        check_may_be_sold(free, 1, {})


def test_fish_not_for_breeding_may_still_be_sold() -> None:
    apart = [SetApart(Aside.NOT_FOR_BREEDING, None, "siblings")]
    assert free_to_sell(HowMany.counted(9), [], apart).free == 9
    assert "siblings" in not_for_breeding(apart)


def test_a_bar_needs_its_reason() -> None:
    with pytest.raises(RuleBroken) as refused:
        SetApart(Aside.NOT_FOR_SALE, None)
    assert refused.value.field == "reason"


def test_a_sale_out_of_an_unknown_number_is_asked_about_and_not_refused() -> None:
    free = free_to_sell(HowMany.at_least(30), [Hold(4)], [])
    with pytest.raises(Asked) as asked:
        check_may_be_sold(free, 10, {})
    assert asked.value.question == "free_unknown"
    check_may_be_sold(free, 10, {"free_unknown": "sell"})


def test_no_more_are_promised_than_are_free() -> None:
    free = free_to_sell(HowMany.counted(10), [Hold(8)], [])
    check_may_be_held(free, 2, {})
    with pytest.raises(RuleBroken, match="3 cannot be held: 10 alive − 8 held = 2 free"):
        check_may_be_held(free, 3, {})
    with pytest.raises(RuleBroken, match="At least one"):
        check_may_be_held(free, 0, {})


def test_a_hold_is_past_its_end_the_day_after() -> None:
    assert not Hold(3, "T. B.", TODAY).is_past(TODAY)
    assert Hold(3, "T. B.", date(2026, 11, 23)).is_past(TODAY)
    assert not Hold(3).is_past(TODAY)


@pytest.mark.parametrize(
    ("said", "first", "last"),
    [
        ("2026-05-14", date(2026, 5, 14), date(2026, 5, 14)),
        ("about May", date(2026, 5, 1), date(2026, 5, 31)),
        ("December", date(2025, 12, 1), date(2025, 12, 31)),
        ("Feb 2024", date(2024, 2, 1), date(2024, 2, 29)),
        ("2026-09", date(2026, 9, 1), date(2026, 9, 30)),
        ("2026-05-20 to 2026-06-03", date(2026, 5, 20), date(2026, 6, 3)),
        ("November", date(2026, 11, 1), TODAY),
    ],
)
def test_a_hatch_is_read_as_vaguely_as_it_was_said(said: str, first: date, last: date) -> None:
    nights = parse_hatched(said, TODAY)
    assert nights is not None
    assert (nights[0].evening, nights[1].evening) == (first, last)


@pytest.mark.parametrize("said", ["", "?", "not known"])
def test_a_hatch_nobody_knows_is_no_hatch(said: str) -> None:
    assert parse_hatched(said, TODAY) is None


@pytest.mark.parametrize("said", ["spring", "2026-13-01", "2026-12-24", "2026-06-01 to 2026-05-01"])
def test_a_hatch_that_cannot_be_read_or_lies_ahead_is_refused(said: str) -> None:
    with pytest.raises(RuleBroken) as refused:
        parse_hatched(said, TODAY)
    assert refused.value.field == "hatched"


def test_density_stands_beside_the_trial_and_says_where_it_is_thicker() -> None:
    thin = StockingDensity(HowMany.counted(59), 100)
    assert thin.said() == "0.59 fish per litre (59 counted in 100 L)"
    assert "Chambel et al. 2015" in thin.beside_the_trial()
    thick = StockingDensity(HowMany.counted(400), 100)
    assert "thicker than anything tried" in thick.beside_the_trial()
    assert StockingDensity(HowMany.unknown(), 100).per_litre is None


def test_a_sample_below_sale_size_leaves_none_free_and_selling_them_is_asked_about() -> None:
    size = OfSaleSize(25, measured=10, of_size=0, measured_on=TODAY)
    free = free_to_sell(HowMany.counted(130), [Hold(10)], [], size)
    assert (free.free, free.free_of_any_size, free.promised_too_many) == (0, 120, 0)
    assert free.said() == (
        "130 alive − 10 held − 120 below sale size = 0 free; about 0 of 130 have sale size "
        "(0–36; 0 of 10 measured Tue 24 Nov had 25 mm)"
    )
    with pytest.raises(Asked) as asked:
        check_may_be_sold(free, 5, {})
    assert asked.value.question == "below_sale_size"
    check_may_be_sold(free, 5, {"below_sale_size": "sell"})
    check_may_be_held(free, 5, {})
    with pytest.raises(RuleBroken, match="121 cannot be sold"):
        check_may_be_sold(free, 121, {"below_sale_size": "sell"})


def test_fish_set_aside_as_small_are_not_taken_off_again_by_the_sample() -> None:
    size = OfSaleSize(25, measured=10, of_size=5)
    free = free_to_sell(HowMany.counted(40), [], [SetApart(Aside.BELOW_SALE_SIZE, 20)], size)
    assert (free.below_sale_size, free.small_by_sample, free.free) == (20, 0, 20)
    assert free_to_sell(HowMany.counted(40), [], [], size).free == 20


def test_of_fish_nobody_measured_their_age_is_said_and_asked_about() -> None:
    size = OfSaleSize(25, length_by_age_mm=9.9)
    free = free_to_sell(HowMany.counted(95), [], [], size)
    assert free.is_size_unknown
    assert "unknown how many have sale size (25 mm; published at their age 10 mm)" in free.said()
    with pytest.raises(Asked, match="nobody measured"):
        check_may_be_sold(free, 5, {})
    check_may_be_sold(free_to_sell(HowMany.counted(95), [], [], OfSaleSize(25)), 5, {})
