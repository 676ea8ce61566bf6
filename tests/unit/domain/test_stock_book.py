"""The stock book: balances, gaps between looks, what is refused and what is asked."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.reared import reared
from hatchery_app.domain.stock_book.stock_book import (
    Count,
    Door,
    Holding,
    Movement,
    Rise,
    Stage,
    StockBook,
    balance,
)
from hatchery_app.domain.stock_book.stock_checks import (
    LaterEntriesImpossible,
    check_correction,
    check_count,
    check_movement,
    check_withdrawal,
    recount,
    uncounted_start,
)
from hatchery_app.domain.stock_book.survival import Survival, survival
from hatchery_app.domain.when import RoomTime, When

counted, about, at_least = HowMany.counted, HowMany.about, HowMany.at_least
estimated = HowMany.estimated

NEST, L1, L2, L3, GROW_OUT = 1, 2, 3, 4, 5
NO_FISH_BEFORE = datetime(2026, 5, 1, 20, tzinfo=UTC)
HOLDINGS = (
    Holding(NEST, "Bay's eggs", Stage.EGGS),
    Holding(L1, "L1", Stage.LARVAE),
    Holding(L2, "L2", Stage.LARVAE),
    Holding(L3, "L3", Stage.LARVAE),
    Holding(GROW_OUT, "G1", Stage.COHORT),
)


def day(number: float) -> When:
    return When.exactly(NO_FISH_BEFORE + timedelta(days=number))


def days(first: float, last: float) -> When:
    return When.between(day(first).earliest, day(last).latest)


def hatched(number: HowMany, into: int = L1, seq: int = 1, when: When | None = None) -> Movement:
    return Movement(seq, when or day(0), number, None, into, Door.HATCHED)


def gone(
    seq: int, when: When, number: HowMany | int, door: Door = Door.DIED, out_of: int = L1
) -> Movement:
    many = counted(number) if isinstance(number, int) else number
    return Movement(seq, when, many, out_of, None, door)


def moved(seq: int, when: When, number: int, out_of: int, into: int) -> Movement:
    return Movement(seq, when, counted(number), out_of, into, Door.MOVED)


def seen(
    seq: int, when: When, number: HowMany | int, holding: int = L1, rise: Rise = Rise.MISSED_EARLIER
) -> Count:
    many = counted(number) if isinstance(number, int) else number
    return Count(seq, when, many, holding, rise)


def book(*entries: Movement | Count) -> StockBook:
    stock = StockBook(HOLDINGS, room_time=RoomTime("Europe/Berlin"))
    for entry in entries:
        stock = stock.with_entry(entry)
    return stock


def figures(stock: StockBook, holding: int = L1) -> tuple[int | None, ...]:
    """Start, now, lost, left alive, unexplained."""
    now = stock.balance(holding)
    return (now.start.best, now.best, now.lost.best, now.left_alive.best, now.unexplained.best)


# Balances


def test_an_empty_holding_holds_none() -> None:
    assert figures(book()) == (0, 0, 0, 0, 0)


def test_the_running_balance_stands_in_the_order_things_happened() -> None:
    stock = book(
        hatched(counted(60)), gone(4, day(3), 2), moved(2, day(1), 20, L1, L2), gone(3, day(2), 5)
    )
    lines = stock.rows(L1)
    assert [line.entry.seq for line in lines] == [1, 2, 3, 4]
    assert [line.after.best for line in lines] == [60, 40, 35, 33]
    assert [line.change for line in lines] == [60, -20, -5, -2]
    assert figures(stock) == (60, 33, 7, 20, 0)


def test_the_balance_can_be_asked_for_any_moment() -> None:
    stock = book(hatched(counted(60)), gone(2, day(2), 5), gone(3, day(4), 1))
    asked = [stock.balance(L1, day(number).latest).best for number in (-1, 0, 1, 2, 3, 4)]
    assert asked == [0, 60, 60, 55, 55, 54]
    assert balance(L1, stock.movements, stock.counts, day(1).latest).best == 60


def test_the_interval_travels_beside_the_number() -> None:
    now = book(hatched(estimated(424, 310, 538)), gone(2, day(1), 24)).balance(L1)
    assert (now.best, now.low, now.high, now.basis) == (400, 286, 514, Basis.ESTIMATED)


def test_a_holding_of_unknown_number_has_no_balance_until_it_is_counted() -> None:
    stock = book(hatched(HowMany.unknown("several thousand")), gone(2, day(1), 500))
    assert stock.balance(L1).best is None
    counted_since = stock.with_entry(seen(3, day(9), 61)).with_entry(gone(4, day(10), 1))
    assert counted_since.balance(L1).best == 60
    assert counted_since.balance(L1).start.basis is Basis.UNKNOWN
    assert counted_since.balance(L1).unexplained.best == 0


def test_a_count_that_is_the_start_holds_what_was_gone_by_then() -> None:
    counting = Count(3, day(0.5), counted(140), L1, is_start=True)
    put_in = book(hatched(HowMany.unknown()), gone(2, day(0.2), 3))
    assert uncounted_start(put_in, counting) == day(0)
    stock = put_in.with_entry(counting).with_entry(gone(4, day(3), 40))
    assert stock.balance(L1).start == counted(143)
    alive = survival(stock.balance(L1).start, stock.balance(L1).now)
    assert isinstance(alive, Survival)
    assert stock.without(3).balance(L1).start == HowMany.unknown()  # withdrawn, it is undone
    firm = book(hatched(counted(120)), counting)
    assert firm.balance(L1).start == counted(140)  # raised as any recount, not replaced


def test_only_the_first_count_within_a_day_of_an_uncounted_start_is_asked_about() -> None:
    put_in = book(hatched(HowMany.unknown()))
    assert uncounted_start(put_in, seen(2, day(1), 140)) is not None
    assert uncounted_start(put_in, seen(2, day(1.1), 140)) is None
    assert uncounted_start(put_in, seen(2, day(0.5), HowMany.unknown())) is None
    assert uncounted_start(book(hatched(about(150))), seen(2, day(0.5), 140)) is None
    counted_once = put_in.with_entry(seen(2, day(0.2), 140))
    assert uncounted_start(counted_once, seen(3, day(0.5), 138)) is None
    here_before = book(Movement(1, day(0), HowMany.unknown(), None, L1, Door.ARRIVED))
    assert uncounted_start(here_before, seen(2, day(0.5), 140)) is None
    more = book(hatched(at_least(200)))
    assert uncounted_start(more, seen(2, day(0.5), 140)) is None
    assert uncounted_start(more, seen(2, day(0.5), 240)) is not None


def test_at_least_is_a_lower_bound_that_a_later_count_raises() -> None:
    stock = book(hatched(at_least(300)), gone(2, day(1), 50))
    assert (stock.balance(L1).best, stock.balance(L1).low) == (None, 250)
    check_count(stock, seen(3, day(2), 340))
    counted_since = stock.with_entry(seen(3, day(2), 340))
    assert counted_since.balance(L1).best == 340
    assert counted_since.balance(L1).start == at_least(390)


def test_a_count_below_at_least_leaves_at_least_so_many_unexplained() -> None:
    now = book(hatched(at_least(300)), seen(2, day(5), 280)).balance(L1)
    assert now.gaps[0].number == at_least(20)


def test_one_clutch_over_three_tanks_is_one_and_each_tank_stays_visible_c28() -> None:
    stock = book(
        hatched(counted(160), into=NEST),
        moved(2, day(0.1), 40, NEST, L1),
        moved(3, day(0.1), 60, NEST, L2),
        moved(4, day(0.1), 60, NEST, L3),
        gone(5, day(0.5), 17),
    )
    clutch = stock.together((NEST, L1, L2, L3))
    assert (clutch.start.best, clutch.best, clutch.lost.best) == (160, 143, 17)
    assert clutch.left_alive.best == 0
    narrow = stock.balance(L1)
    assert survival(clutch.start, clutch.now).said().startswith("89 % alive")
    assert survival(narrow.start, narrow.now).said().startswith("58 % alive")
    assert figures(stock, L2) == (60, 60, 0, 0, 0)


def test_fish_split_off_and_put_back_are_no_new_start_and_left_no_tank() -> None:
    stock = book(
        hatched(counted(140)),
        gone(2, day(1), 12),
        moved(3, day(2), 50, L1, L2),
        gone(4, day(3), 10, out_of=L2),
        moved(5, day(4), 40, L2, L1),
    )
    assert figures(stock) == (140, 118, 12, 10, 0)
    assert figures(stock, L2) == (50, 0, 10, 40, 0)
    by_age = reared(stock, (L1,), lambda moment: (moment - day(0).earliest).days)
    assert by_age
    assert by_age.left_over == 118


def test_of_fish_put_back_out_of_a_mixed_tank_nobody_says_that_they_were_here_before() -> None:
    stock = book(
        hatched(counted(140)),
        hatched(counted(30), seq=2, into=L2),
        moved(3, day(2), 50, L1, L2),
        moved(4, day(4), 40, L2, L1),
    )
    assert figures(stock) == (180, 130, 0, 50, 0)


# Vague moments


def test_a_vague_hatch_comes_before_an_exact_move_within_it() -> None:
    stock = book(hatched(counted(40), when=days(0, 0.3)))
    check_movement(stock, moved(2, day(0.2), 40, L1, L2))
    assert stock.with_entry(moved(2, day(0.2), 40, L1, L2)).balance(L1).best == 0


def test_a_vague_move_is_never_in_two_tanks_or_in_none() -> None:
    stock = book(
        hatched(counted(40)),
        Movement(2, days(2, 4), counted(40), L1, L2, Door.MOVED),
        gone(3, day(3), 2, out_of=L2),
    )
    for number in (0, 1, 2, 2.5, 3, 3.5, 4, 5):
        moment = day(number).latest
        both = sum(stock.balance(tank, moment).best or 0 for tank in (L1, L2))
        assert both == (40 if number < 3 else 38)


def test_a_loss_whose_band_ends_with_a_count_lies_before_it_even_if_entered_later() -> None:
    stock = book(hatched(counted(61)), seen(2, day(18), 48), gone(3, days(0, 18), 5))
    assert figures(stock) == (61, 48, 5, 0, 8)


def test_entries_of_one_instant_stand_as_they_were_entered() -> None:
    stock = book(hatched(counted(61)), seen(2, day(5), 60), gone(3, day(5), 20, Door.SOLD))
    assert figures(stock) == (61, 40, 0, 20, 1)


# Recounts


def test_deaths_found_late_are_bodies_and_missing_in_a_band_c40() -> None:
    second, twentieth = day(1), day(19)
    stock = book(hatched(counted(61)), seen(2, second, 61))
    found = recount(stock, seen(4, twentieth, 48), bodies=5, died_seq=3)
    assert found.died is not None
    assert (found.died.number.best, found.died.door) == (5, Door.DIED)
    assert found.missing == counted(8)
    assert found.band == When.between(second.earliest, twentieth.latest)
    after = stock.with_entry(found.died).with_entry(seen(4, twentieth, 48))
    assert figures(after) == (61, 48, 5, 0, 8)
    assert after.balance(L1).gaps[0].when == found.band
    assert after.balance(L1, day(10).latest).best == 61


def test_a_recount_without_bodies_is_all_missing_since_the_fish_came_in() -> None:
    found = recount(book(hatched(counted(61))), seen(2, day(9), 48), bodies=0, died_seq=3)
    assert (found.died, found.missing) == (None, counted(13))
    assert found.band == days(0, 9)


def test_more_bodies_than_fish_are_refused() -> None:
    with pytest.raises(RuleBroken, match="held 61 counted"):
        recount(book(hatched(counted(61))), seen(2, day(9), 48), bodies=62, died_seq=3)


def test_a_death_entered_late_takes_from_the_unexplained_and_not_from_the_count() -> None:
    stock = book(hatched(counted(61)), seen(2, day(9), 48))
    assert figures(stock) == (61, 48, 0, 0, 13)
    assert figures(stock.with_entry(gone(3, day(4), 6))) == (61, 48, 6, 0, 7)


def test_an_estimates_gap_carries_its_doubt() -> None:
    now = book(hatched(counted(500)), seen(2, day(9), estimated(424, 310, 538))).balance(L1)
    assert now.best == 424
    assert (now.unexplained.best, now.unexplained.low, now.unexplained.high) == (76, 0, 190)


def test_one_more_found_is_asked_about_and_raises_the_start_c30() -> None:
    stock = book(hatched(counted(7)), gone(2, day(1), 1))
    with pytest.raises(Asked, match="Missed earlier, or a new arrival") as asked:
        check_count(stock, seen(3, day(2), 7))
    assert asked.value.question == "count_above"
    assert [value for value, _ in asked.value.answers] == ["missed_earlier", "new_arrival"]
    check_count(stock, seen(3, day(2), 7), answers={"count_above": "missed_earlier"})
    now = stock.with_entry(seen(3, day(2), 7)).balance(L1)
    assert (now.start, now.best) == (counted(8), 7)
    left = survival(now.start, now.now)
    assert isinstance(left, Survival)
    assert left.best == pytest.approx(7 / 8)
    assert left.said().startswith("88 % alive")


def test_an_estimate_above_a_counted_number_that_fits_it_changes_nothing() -> None:
    stock = book(hatched(counted(500)))
    look = seen(2, day(1), estimated(520, 430, 640))
    check_count(stock, look)
    assert stock.with_entry(look).balance(L1).now == counted(500)


def test_a_look_by_eye_does_not_overrule_a_count() -> None:
    stock = book(
        hatched(counted(61)), seen(2, day(1), about(50)), seen(3, day(2), HowMany.unknown())
    )
    assert stock.balance(L1).now == counted(61)
    by_eye = book(hatched(about(200)), seen(2, day(3), about(150)))
    assert by_eye.balance(L1).best == 150
    assert by_eye.balance(L1).unexplained.best == 50


def test_at_least_so_many_seen_lifts_the_lower_bound() -> None:
    stock = book(hatched(estimated(40, 30, 55)), seen(2, day(1), at_least(35)))
    assert (stock.balance(L1).best, stock.balance(L1).low) == (40, 35)


def test_at_least_more_than_the_book_is_asked_about() -> None:
    with pytest.raises(Asked, match="were seen"):
        check_count(book(hatched(counted(61))), seen(2, day(1), at_least(65)))


# What is refused and asked


def test_more_than_a_counted_balance_is_refused_with_the_number_there() -> None:
    with pytest.raises(RuleBroken) as refused:
        check_movement(book(hatched(counted(12))), moved(2, day(1), 15, L1, L2))
    assert refused.value.sentence == (
        "L1 held 12 counted (Sat 2 May 22:00): 15 counted cannot be moved."
    )
    assert refused.value.field == "number"
    assert not isinstance(refused.value, Asked)


def test_more_than_the_best_estimate_is_asked_and_more_than_its_bound_refused() -> None:
    stock = book(hatched(estimated(40, 30, 55)))
    check_movement(stock, moved(2, day(1), 40, L1, L2))
    with pytest.raises(Asked) as asked:
        check_movement(stock, moved(2, day(1), 45, L1, L2))
    assert asked.value.question == "more_than_best"
    check_movement(stock, moved(2, day(1), 45, L1, L2), answers={"more_than_best": "raise"})
    with pytest.raises(RuleBroken) as refused:
        check_movement(stock, moved(2, day(1), 56, L1, L2), answers={"more_than_best": "raise"})
    assert not isinstance(refused.value, Asked)


def test_more_taken_than_estimated_raises_the_start_by_as_many() -> None:
    stock = book(hatched(estimated(40, 30, 55)), moved(2, day(1), 45, L1, L2))
    assert figures(stock) == (45, 0, 0, 45, 0)
    assert stock.balance(L1).start.low == 45
    assert stock.balance(L2).now == counted(45)


def test_a_clutch_raised_in_one_tank_is_at_least_what_all_its_tanks_had() -> None:
    stock = book(
        hatched(estimated(40, 30, 55)),
        moved(2, day(1), 20, L1, L2),
        gone(3, day(2), 25, Door.SOLD),
    )
    clutch = stock.together((L1, L2))
    assert (clutch.start.best, clutch.start.low, clutch.start.high) == (45, 45, 55)
    assert clutch.now.best == 20


def test_from_an_unknown_start_anything_may_leave() -> None:
    check_movement(book(hatched(HowMany.unknown())), moved(2, day(1), 5000, L1, L2))
    check_movement(book(hatched(at_least(300))), moved(2, day(1), 340, L1, L2))


def test_a_back_dated_death_that_leaves_too_few_names_what_it_would_break() -> None:
    stock = book(
        hatched(counted(20)),
        gone(2, day(4), 12, Door.SOLD),
        gone(3, day(5), 6, Door.GIVEN_AWAY),
    )
    check_movement(stock, gone(4, day(2), 2))
    with pytest.raises(LaterEntriesImpossible) as refused:
        check_movement(stock, gone(4, day(2), 10))
    assert [row.entry.seq for row in refused.value.rows] == [2, 3]
    assert refused.value.sentence.startswith(
        "Too few would be left for what is entered later: "
        "Tue 5 May 22:00, L1: 12 sold, 10 there; Wed 6 May 22:00, L1: 6 given away, 0 there."
    )


def test_withdrawing_a_hatch_whose_fish_were_sold_is_refused() -> None:
    stock = book(hatched(counted(20)), gone(2, day(4), 12, Door.SOLD))
    with pytest.raises(LaterEntriesImpossible):
        check_withdrawal(stock, 1)
    check_withdrawal(stock, 2)


def test_correcting_a_hatch_below_what_was_moved_on_is_refused_down_the_line() -> None:
    stock = book(
        hatched(counted(20)), moved(2, day(1), 20, L1, L2), gone(3, day(4), 18, Door.SOLD, L2)
    )
    check_correction(stock, 1, hatched(counted(25)))
    with pytest.raises(LaterEntriesImpossible, match="20 moved, 15 there"):
        check_correction(stock, 1, hatched(counted(15)))
    with pytest.raises(LaterEntriesImpossible, match="18 sold, 15 there"):
        check_correction(stock, 2, moved(2, day(1), 15, L1, L2))


def test_an_older_contradiction_does_not_bar_a_sound_entry() -> None:
    stock = book(hatched(counted(5)), gone(2, day(1), 9), hatched(counted(30), into=L2, seq=3))
    check_movement(stock, moved(4, day(2), 10, L2, L3))


def test_a_late_body_above_the_missing_asks_about_the_later_count() -> None:
    stock = book(hatched(counted(61)), seen(2, day(9), 60))
    with pytest.raises(Asked) as asked:
        check_movement(stock, gone(3, day(4), 3))
    assert asked.value.question == "count_above"


@pytest.mark.parametrize(
    ("out_of", "into", "door", "number"),
    [
        (L1, L1, Door.MOVED, 3),
        (None, None, Door.DIED, 3),
        (None, L1, Door.DIED, 3),
        (L1, L2, Door.SOLD, 3),
        (L1, None, Door.MOVED, 3),
        (L1, None, Door.ARRIVED, 3),
        (L1, L2, Door.FOUND, 3),
        (L1, None, Door.DIED, 0),
    ],
)
def test_a_door_that_leads_nowhere_is_refused(
    out_of: int | None, into: int | None, door: Door, number: int
) -> None:
    with pytest.raises(RuleBroken):
        Movement(1, day(0), counted(number), out_of, into, door)


def test_a_holding_the_book_does_not_know_is_not_known() -> None:
    with pytest.raises(NotKnown):
        book().balance(99)


# Merged, and sold in pieces


def test_a_merged_batch_is_counted_on_without_guessing_whose_are_missing_c42() -> None:
    stock = book(
        hatched(counted(22), into=L1),
        hatched(counted(19), into=L2, seq=2),
        moved(3, day(31), 22, L1, GROW_OUT),
        moved(4, day(31), 19, L2, GROW_OUT),
        seen(5, day(40), 38, GROW_OUT),
        gone(6, day(41), 12, Door.SOLD, GROW_OUT),
    )
    assert figures(stock, GROW_OUT) == (41, 26, 0, 12, 3)
    assert figures(stock, L1) == (22, 0, 0, 22, 0)


def test_a_replacement_is_a_movement_and_no_death_in_the_room_c68() -> None:
    stock = book(
        hatched(counted(84), into=GROW_OUT),
        gone(2, day(60), 20, Door.SOLD, GROW_OUT),
        gone(3, day(61), 1, Door.REPLACED, GROW_OUT),
        gone(4, day(62), 4, Door.PUT_DOWN, GROW_OUT),
    )
    now = stock.balance(GROW_OUT)
    assert (now.best, now.left_alive.best, now.lost.best) == (59, 21, 4)
    left = survival(now.start, now.now, removed=now.left_alive.best or 0)
    assert isinstance(left, Survival)
    assert left.best == pytest.approx(80 / 84)


def test_a_room_of_many_holdings_reads_its_entries_once_for_all_of_them() -> None:
    class Listed(tuple[Movement, ...]):
        read = 0

        def __iter__(self) -> Iterator[Movement]:
            Listed.read += 1
            return super().__iter__()

    noon = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
    came = Listed(
        Movement(n, When.exactly(noon), HowMany.counted(n), None, n, Door.HATCHED)
        for n in range(1, 40)
    )
    Listed.read = 0
    book = StockBook(tuple(Holding(n, f"Batch {n}", Stage.LARVAE) for n in range(1, 40)), came)
    assert [book.balance(n).best for n in range(1, 40)] == list(range(1, 40))
    assert len(book.rows(7)) == 1
    assert Listed.read == 1
