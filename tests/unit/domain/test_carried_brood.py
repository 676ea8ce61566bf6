"""A carried brood: its days, its window, its number, its day's work."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from hatchery_app.domain.clutch.carried_brood import (
    BroodDay,
    EarlierBrood,
    brood_forecast,
    brood_tasks,
    days_between,
    days_carried,
    first_seen_holding,
    lost_between,
    number_ahead,
    words_of,
)
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.species.species import Brood, BroodMode
from hatchery_app.domain.when import Lights, Night, RoomTime, When

LISBON = RoomTime("Europe/Lisbon")
LIGHTS = Lights(on=time(8), off=time(20))
CARDINAL = Brood("male", release_days=29, hatch_days=19)
SEAHORSE = Brood("male", release_days=17.3, spread_days=2.9)
TAKEN = datetime(2026, 6, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)


def forecast(brood: Brood, taken: When, now: datetime, **more: object) -> object:
    return brood_forecast(
        taken=taken, brood=brood, lights=LIGHTS, room_time=LISBON, now=now, **more
    )  # type: ignore[arg-type]


def earlier(days: float, young: HowMany | None = None, mother: int | None = None) -> EarlierBrood:
    taken = TAKEN - 60 * DAY
    return EarlierBrood(
        When.exactly(taken), When.exactly(taken + days * DAY), young or HowMany.unknown(), mother
    )


def test_without_own_broods_the_days_are_the_species_and_their_spread_whole() -> None:
    assert days_carried(SEAHORSE, ()).mean == pytest.approx(17.3)
    assert days_carried(SEAHORSE, ()).sd == pytest.approx(2.9)
    assert days_carried(CARDINAL, ()).said == "from the species, its spread assumed"


def test_one_own_brood_is_blended_and_many_take_over() -> None:
    """Half the variance is between fathers, so one brood weighs a half, four weigh 4/5."""
    assert days_carried(SEAHORSE, [earlier(15.3)]).mean == pytest.approx(16.3)
    four = days_carried(SEAHORSE, [earlier(15.3)] * 4)
    assert four.mean == pytest.approx(17.3 - 2 * 4 / 5)
    assert four.sd < days_carried(SEAHORSE, ()).sd
    assert four.own_broods == 4


def test_a_brood_with_a_vague_start_counts_for_less() -> None:
    sharp = earlier(15.3)
    vague = EarlierBrood(
        When.between(sharp.taken.earliest - 5 * DAY, sharp.taken.latest + 5 * DAY),
        sharp.first_out, sharp.young,
    )  # fmt: skip
    pull_of = [17.3 - days_carried(SEAHORSE, [each]).mean for each in (sharp, vague)]
    assert 0 < pull_of[1] < 0.6 * pull_of[0]


def test_a_lost_brood_teaches_nothing_of_days() -> None:
    lost = EarlierBrood(When.exactly(TAKEN), None, HowMany.unknown())
    assert days_carried(SEAHORSE, [lost]) == days_carried(SEAHORSE, ())


def test_a_window_lies_about_the_species_day_with_its_spread() -> None:
    shown = forecast(CARDINAL, When.exactly(TAKEN), TAKEN + 12 * DAY)
    assert shown.day == (12, 12)
    assert shown.day_said == "day 12"
    assert shown.likeliest == Night(date(2026, 6, 30))
    first, last = (night.number(Night(date(2026, 6, 1))) for night in shown.window)
    assert (first, last) == (24, 33)  # 29 ± 1.645 × 2.9
    assert not shown.look_now
    assert not shown.overdue


def test_seen_still_holding_moves_the_window_behind_that() -> None:
    now = TAKEN + 31 * DAY
    shown = forecast(CARDINAL, When.exactly(TAKEN), now, held_at=now)
    assert shown.window[0] >= Night(now.date())
    assert shown.look_now


def test_a_brood_far_over_its_days_is_overdue() -> None:
    assert forecast(CARDINAL, When.exactly(TAKEN), TAKEN + 35 * DAY).overdue


def test_a_start_nobody_saw_widens_the_window_and_the_day() -> None:
    seen = When.exactly(TAKEN)
    taken = first_seen_holding(seen, SEAHORSE)
    assert taken.latest == seen.latest
    shown = forecast(SEAHORSE, taken, TAKEN + 2 * DAY)
    known = forecast(SEAHORSE, seen, TAKEN + 2 * DAY)
    assert shown.day == (2, 25)
    assert not shown.is_start_known
    wide, narrow = (each.window[1].number(each.window[0]) for each in (shown, known))
    assert wide > narrow


def test_a_shift_of_everything_by_days_shifts_the_window_by_as_many() -> None:
    by = 9
    one = forecast(CARDINAL, When.exactly(TAKEN), TAKEN + 3 * DAY)
    two = forecast(CARDINAL, When.exactly(TAKEN + by * DAY), TAKEN + (3 + by) * DAY)
    assert two.window == tuple(night.plus(by) for night in one.window)


def test_a_number_comes_from_his_own_births_and_never_from_the_species() -> None:
    """Lin et al. 2008: 85 at the first birth, 466 at the sixth; a mean of 272 fits neither."""
    none = number_ahead((), BroodMode.POUCH)
    assert (none.low, none.high, none.rank) == (None, None, 1)
    assert "no counted birth of his own" in none.said
    births = [earlier(17, HowMany.counted(n)) for n in (85, 150, 240, 310, 390)]
    ahead = number_ahead(births, BroodMode.POUCH)
    assert (ahead.rank, ahead.low, ahead.high) == (6, 240, 390)
    assert "his sixth in this room" in ahead.said


def test_a_new_mate_is_said_beside_the_number() -> None:
    births = [earlier(17, HowMany.counted(120), mother=4)]
    assert "new mate" not in number_ahead(births, BroodMode.POUCH, 4).said
    assert "new mate" in number_ahead(births, BroodMode.POUCH, 5).said
    assert "new mate" not in number_ahead(births, BroodMode.POUCH, None).said


def test_a_brood_was_lost_between_last_seen_holding_and_feeding() -> None:
    feeding = When.exactly(TAKEN + 9 * DAY)
    lost = lost_between(When.exactly(TAKEN), [When.exactly(TAKEN + 4 * DAY)], feeding)
    assert (lost.earliest, lost.latest) == (TAKEN + 4 * DAY, TAKEN + 9 * DAY)
    with pytest.raises(RuleBroken, match="after that"):
        lost_between(When.exactly(TAKEN), [When.exactly(TAKEN + 10 * DAY)], feeding)


def test_days_carried_run_from_the_latest_start_to_the_first_and_earliest_to_the_last() -> None:
    taken = LISBON.whole_days(date(2008, 1, 5), date(2008, 1, 11))
    out = [When.exactly(datetime(2008, 2, day, 10, tzinfo=UTC)) for day in (11, 12, 13)]
    assert days_between(taken, out, LISBON) == (31, 39)
    assert days_between(taken, [], LISBON) is None


def test_a_carried_brood_asks_for_no_watch_and_no_rotifers() -> None:
    brood = BroodDay(
        7, 3, BroodMode.MOUTH, date(2026, 6, 1), (date(2026, 6, 25), date(2026, 7, 4)),
        "brine shrimp, instar I",
    )  # fmt: skip
    before, within = (brood_tasks(brood, date(2026, 6, day)) for day in (25, 26))
    assert [task.name.kind for task in before] == ["ready_for_young"]
    assert [task.name.kind for task in within] == ["ready_for_young", "look_for_young"]
    words = " ".join(f"{task.what} {task.why}" for task in within)
    assert "rotifer" not in words
    assert "hatch" not in words.replace("brine", "")
    assert brood_tasks(brood, date(2026, 5, 31)) == ()


def test_after_a_first_release_more_are_looked_for_every_morning() -> None:
    brood = BroodDay(
        7, 3, BroodMode.MOUTH, date(2026, 6, 1), (date(2026, 6, 25), date(2026, 7, 4)),
        out_since_on=date(2026, 6, 20),
    )  # fmt: skip
    kinds = [task.name.kind for task in brood_tasks(brood, date(2026, 6, 21))]
    assert "look_for_young" in kinds


def test_nobody_carries_eggs_on_a_tile() -> None:
    with pytest.raises(RuleBroken):
        words_of(BroodMode.GUARDED_EGGS)
