"""Numbers as keepers write them, and what may be reckoned from them."""

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.how_many import Basis, HowMany, parse


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("17", "17 counted"),
        ("0", "0 counted"),
        ("none", "0 counted"),
        ("twelve", "12 counted"),
        ("143 counted", "143 counted"),
        ("17 fish", "17 counted"),
        ("1 500", "1500 counted"),
        ("1,500", "1500 counted"),
        ("1.500", "1500 counted"),
        ("about 200", "about 200"),
        ("About 200 eggs", "about 200"),
        ("~200", "about 200"),
        ("ca. 200", "about 200"),
        ("c. 200", "about 200"),
        ("200?", "about 200"),
        ("200 or so", "about 200"),
        ("close to 100", "about 100"),
        (">300", "at least 300"),
        ("more than 300", "at least 300"),
        ("at least 50", "at least 50"),
        ("300+", "at least 300"),
        ("at least 0", "unknown"),
        ("under 50", "unknown, at most 50"),
        ("200-240", "200–240"),
        ("between 200 and 240", "200–240"),
        ("424 (310–538)", "424 (310–538)"),
        ("200 ± 20", "200 (180–220)"),
        ("several thousand", "unknown"),
        ("a few", "unknown"),
        ("half", "unknown"),
        ("unknown", "unknown"),
        ("?", "unknown"),
        ("", "unknown"),
        ("NA", "unknown"),
        ("not counted", "unknown"),
    ],
)
def test_what_keepers_write_is_read(written: str, said: str) -> None:
    number = parse(written)
    assert number.said() == said
    assert number.written == written


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("٣", "figures 0 to 9"),
        ("²", "figures 0 to 9"),
        ("½", "figures 0 to 9"),
        ("1e3", "out in full"),
        ("-5", "below 0"),
        ("about -5", "below 0"),
        ("2.5", "counted whole"),
        ("2,5", "counted whole"),
        ("1,50", "counted whole"),
        ("240-200", "smaller first"),
        ("500 (310–420)", "does not hold"),
        ("99999999999", "check the figures"),
        ("1" * 5000, "check the figures"),
        ("herring", "not a number this room can read"),
        ("17 18", "not a number this room can read"),
    ],
)
def test_what_is_no_number_of_fish_is_refused_beside_its_field(written: str, sentence: str) -> None:
    with pytest.raises(RuleBroken, match=sentence) as refused:
        parse(written, field="eggs")
    assert refused.value.field == "eggs"


def test_zero_is_counted_and_not_unknown() -> None:
    assert parse("0").is_known
    assert parse("0").best == 0
    assert not parse("").is_known


def test_close_to_100_is_not_100_counted() -> None:
    # C07: the number of larvae collected by scoop and light trap.
    number = parse("close to 100")
    assert (number.best, number.low, number.high, number.basis) == (100, None, None, Basis.ABOUT)


def test_more_than_300_sets_no_upper_limit() -> None:
    # C29: a later count of 340 must not contradict it.
    number = parse("more than 300")
    assert (number.best, number.least, number.most) == (None, 300, None)


def test_several_thousand_states_no_lower_bound() -> None:
    number = parse("several thousand")
    assert (number.least, number.basis, number.written) == (0, Basis.UNKNOWN, "several thousand")


@pytest.mark.parametrize(
    ("one", "other", "said"),
    [
        ("40", "60", "100 counted"),
        ("50", "about 200", "about 250"),
        ("10", "424 (310–538)", "434 (320–548)"),
        ("424 (310–538)", "about 20", "about 444"),
        ("50", "at least 300", "at least 350"),
        ("50", "unknown", "at least 50"),
        ("0", "unknown", "unknown"),
        ("unknown", "unknown", "unknown"),
        ("50", "under 10", "at least 50, at most 60"),
    ],
)
def test_two_numbers_together_are_no_firmer_than_the_vaguer(
    one: str, other: str, said: str
) -> None:
    assert (parse(one) + parse(other)).said() == said
    assert (parse(other) + parse(one)).said() == said


@pytest.mark.parametrize(
    ("held", "taken", "said"),
    [
        ("160", "17", "143 counted"),
        ("17", "17", "0 counted"),
        ("about 200", "17", "about 183"),
        ("about 10", "17", "about 0"),
        ("424 (310–538)", "400", "24 (0–138)"),
        ("50", "about 10", "about 40"),
        ("at least 300", "50", "at least 250"),
        ("at least 300", "at least 50", "unknown"),
        ("at least 300", "340", "unknown"),
        ("50", "at least 20", "unknown, at most 30"),
        ("20", "at least 20", "0 (0–0)"),
        ("unknown", "17", "unknown"),
        ("50", "unknown", "unknown, at most 50"),
    ],
)
def test_what_is_left_keeps_honest_bounds(held: str, taken: str, said: str) -> None:
    assert (parse(held) - parse(taken)).said() == said


def test_about_200_less_what_is_left_never_claims_a_count() -> None:
    # C08: started with about 200, about 30 left.
    lost = parse("about 200") - parse("about 30")
    assert lost.said() == "about 170"


@pytest.mark.parametrize(("held", "taken"), [("17", "18"), ("100 (60–150)", "151"), ("5", ">9")])
def test_more_than_there_can_be_cannot_be_taken(held: str, taken: str) -> None:
    with pytest.raises(RuleBroken, match="not so many to take"):
        parse(held) - parse(taken)


@pytest.mark.parametrize(
    ("best", "low", "high", "basis"),
    [
        (-1, None, None, Basis.ABOUT),
        (5, 6, 7, Basis.ESTIMATED),
        (5, 4, None, Basis.ESTIMATED),
        (5, 4, 6, Basis.COUNTED),
        (None, None, None, Basis.AT_LEAST),
        (300, 300, None, Basis.AT_LEAST),
        (3, None, None, Basis.UNKNOWN),
        (None, 3, None, Basis.UNKNOWN),
    ],
)
def test_figures_that_contradict_their_basis_are_refused(
    best: int | None, low: int | None, high: int | None, basis: Basis
) -> None:
    with pytest.raises(RuleBroken):
        HowMany(best, low, high, basis)
