"""Which clutches a batch may hold, through splits, merges and fish that went to and fro."""

from hatchery_app.domain.stock_book.batch_descent import Flow, follows, gathered

A, B = frozenset({"A"}), frozenset({"B"})


def test_what_follows_a_batch_is_reached_once_even_in_a_ring():
    flows = [Flow(1, None), Flow(2, 1), Flow(3, 2), Flow(1, 3), Flow(9, 8)]
    assert follows(flows, 1) == (1, 2, 3)


def test_a_merge_holds_what_both_held():
    flows = [Flow(1, None), Flow(3, 1), Flow(3, 2)]
    assert gathered(flows, (1, 3), {1: B}, {1: A, 2: A, 3: A}) == {1: B, 3: A | B}


def test_fish_that_went_to_and_fro_leave_both_batches_mixed():
    flows = [Flow(1, None), Flow(2, None), Flow(2, 1), Flow(1, 2)]
    assert gathered(flows, (1, 2), {1: A, 2: B}, {}) == {1: A | B, 2: A | B}


def test_a_batch_of_which_nothing_is_said_keeps_what_it_has():
    assert gathered([Flow(1, None)], (1,), {}, {1: A}) == {1: A}


def test_none_that_is_said_goes_along_as_well():
    flows = [Flow(1, None), Flow(2, 1), Flow(3, 2)]
    none = frozenset()
    assert gathered(flows, (1, 2, 3), {1: none}, {1: A, 2: A, 3: A}) == {1: none, 2: none, 3: none}
