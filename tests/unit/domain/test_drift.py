from hatchery_app.domain.spawn.drift import Drift, clutch_size_drift, gap_drift

STEADY = [450, 480, 430, 465, 440, 455, 470, 445]


def test_fewer_than_eight_clutches_and_one_more_say_nothing():
    assert clutch_size_drift([]).drift is Drift.TOO_FEW
    assert clutch_size_drift([450, 100, 50]).drift is Drift.TOO_FEW
    assert clutch_size_drift(STEADY).drift is Drift.TOO_FEW
    assert clutch_size_drift([*STEADY, 452]).drift is Drift.STEADY


def test_clutches_that_grow_smaller_are_said_to_drift_down_with_both_means():
    seen = clutch_size_drift([*STEADY, 420, 400, 380, 360, 350])
    assert seen.drift is Drift.DOWN
    assert seen.words == (
        "Drifting down: the first 8 clutches had 454 eggs on average, the last 5 382."
    )


def test_a_small_change_is_a_leaning_not_a_finding():
    assert clutch_size_drift([*STEADY, 400]).drift is Drift.LEANING_DOWN


def test_one_good_clutch_after_the_fall_does_not_hide_it():
    assert clutch_size_drift([*STEADY, 380, 360, 340, 470]).drift is Drift.DOWN


def test_gaps_that_lengthen_drift_up():
    assert gap_drift([13, 14, 13, 12, 13, 14, 13, 13, 16, 17, 18]).drift is Drift.UP
    assert gap_drift([13] * 12).drift is Drift.STEADY


def test_a_record_without_any_scatter_is_not_divided_by_nothing():
    assert clutch_size_drift([400] * 9).drift is Drift.STEADY
