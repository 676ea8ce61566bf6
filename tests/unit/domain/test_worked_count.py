"""A count as it was worked out: the number, the words beside it, both again from what is kept."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany, parse
from hatchery_app.domain.stock_book.worked_count import (
    LookSaid,
    Recovery,
    Seen,
    WorkedCount,
    looked,
    photo_of,
    read_samples,
    read_weighed,
    recovery_of,
    worked_again,
    worked_from_aliquots,
    worked_from_photo,
    worked_from_squares,
    worked_from_weights,
)

TRIAL = Recovery(0.8, 0.6, 0.95)
BY_EACH_WAY = {
    "aliquots": worked_from_aliquots([12, 9, 14, 11, 10], aliquot_ml=5, total_ml=12000),
    "recovery": worked_from_aliquots(
        [12, 9, 14, 11, 10], aliquot_ml=5, total_ml=12000, recovery=TRIAL
    ),
    "squares": worked_from_squares([38, 41, 35], length_cm=5.2, width_cm=4.8, square_cm2=1),
    "weights": worked_from_weights([(1.5, 36), (1.6, 35), (1.9, 41)], total_g=316.8, loose=True),
    "picture": worked_from_photo(37, Seen.ALL, 5),
    "picture, typed": worked_from_photo(0, Seen.SOME_HIDDEN, 5, HowMany.counted(40)),
}


@pytest.mark.parametrize("worked", BY_EACH_WAY.values(), ids=BY_EACH_WAY)
def test_what_is_kept_with_a_number_says_again_how_it_came_about(worked: WorkedCount) -> None:
    again = worked_again(worked.number)
    assert again is not None
    assert (again.number, again.by) == (worked.number, worked.by)
    assert again.lines == worked.lines
    assert len(str(worked.number.raw)) < 400  # what the records keep of it


def test_squares_on_an_oval_are_an_estimate_and_ask_for_more() -> None:
    worked = BY_EACH_WAY["squares"]
    assert worked.number.said() == "745 (599–891)"
    assert worked.number.basis is Basis.ESTIMATED
    assert "An oval of 5.2 by 4.8 cm is 19.6 cm²." in worked.lines
    assert worked.advice == "Count more squares to narrow it."


def test_weights_say_what_the_mean_of_ratios_would_give() -> None:
    worked = BY_EACH_WAY["weights"]
    assert worked.number.best == 7096
    assert any("7,123" in line for line in worked.lines)


def test_eggs_that_are_glued_down_are_never_weighed() -> None:
    with pytest.raises(RuleBroken, match="glued"):
        worked_from_weights([(1.5, 36), (1.6, 35)], total_g=300, loose=False)


def test_a_trial_raises_the_number_and_widens_its_range() -> None:
    plain, corrected = BY_EACH_WAY["aliquots"].number, BY_EACH_WAY["recovery"].number
    assert plain.best == 26880
    assert corrected.best == 33600  # over 0.8
    assert plain.least / 26880 > corrected.least / 33600
    assert (plain.most or 0) / 26880 < (corrected.most or 0) / 33600
    assert "this room's own recovery, 80 % (60–95 %)" in BY_EACH_WAY["recovery"].lines[-1]


@pytest.mark.parametrize(("counts", "share"), [([8, 9, 7], 0.8), ([11, 12, 10], 1.0)])
def test_a_trial_never_finds_more_than_was_put_in(counts: list[int], share: float) -> None:
    found = recovery_of(counts, aliquot_ml=5, total_ml=1000, known=2000)
    assert found.share == pytest.approx(share)
    assert found.low <= found.share <= found.high <= 1


def test_a_trial_that_finds_none_is_refused() -> None:
    with pytest.raises(RuleBroken, match="None of them were found"):
        recovery_of([0, 0], aliquot_ml=5, total_ml=1000, known=50)


@pytest.mark.parametrize(
    ("seen", "said"),
    [(Seen.ALL, "37 counted"), (Seen.SOME_HIDDEN, "at least 37"), (Seen.UNSHARP, "about 37")],
)
def test_marks_on_a_picture_are_as_firm_as_what_the_picture_shows(seen: Seen, said: str) -> None:
    number = worked_from_photo(37, seen, 5).number
    assert (number.said(), photo_of(number)) == (said, 5)


@pytest.mark.parametrize(
    ("look", "typed", "before", "said"),
    [
        (LookSaid.ABOUT, "80", None, "about 80"),  # a bare figure under a look is no count
        (LookSaid.ABOUT, "60-90", None, "60–90"),
        (LookSaid.AT_LEAST, "50", None, "at least 50"),
        (LookSaid.FEW, "", "143", "unknown"),
        (LookSaid.HALF, "", "143", "about 72"),
        (LookSaid.HALF, "", "?", "unknown"),
        (LookSaid.SAME, "", "about 200", "about 200"),
        (LookSaid.UNKNOWN, "", "143", "unknown"),
    ],
)
def test_a_look_claims_no_more_than_was_seen(
    look: LookSaid, typed: str, before: str | None, said: str
) -> None:
    was = parse(before) if before is not None else None
    number = looked(look, parse(typed) if typed else None, was)
    assert number.said() == said
    assert number.basis is not Basis.COUNTED


def test_a_look_keeps_its_words() -> None:
    assert looked(LookSaid.FEW, None, None).written == "a few"
    assert looked(LookSaid.HALF, None, HowMany.counted(143)).written == "about half of 143"


def test_about_so_many_wants_a_figure() -> None:
    with pytest.raises(RuleBroken, match="Write how many"):
        looked(LookSaid.ABOUT, None, HowMany.counted(3))


def test_figures_are_read_as_they_are_written() -> None:
    assert read_samples("12, 9\n14; 3") == (12, 9, 14, 3)
    assert read_weighed("1,5 g 36\n1.6/35; 1.9 g 41 eggs") == ((1.5, 36), (1.6, 35), (1.9, 41))
    for text in ("", "12, about 9", "1.5"):
        with pytest.raises(RuleBroken):
            read_samples(text)
    for text in ("", "1.5", "heavy 36", "1.5 g 36 and some"):
        with pytest.raises(RuleBroken):
            read_weighed(text)


def test_what_was_only_said_has_no_figures_to_read_again() -> None:
    assert worked_again(parse("about 200")) is None
    assert worked_again(HowMany.estimated(5, 4, 6, raw="abacus beads=5")) is None
