"""Batches put together: parents one of, ages a range, survival frozen."""

import pytest

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.mixed_batch import MixedBatch, Source, put_together

counted = HowMany.counted


def batch(
    number: int, name: str, pair: str, age: int, start: int, now: int, **facts: str
) -> Source:
    return Source(
        number,
        name,
        frozenset({number}),
        (pair,),
        facts.get("species", "ocellaris"),
        facts.get("line", ""),
        age,
        age,
        counted(start),
        counted(now),
    )


def test_two_clutches_put_together_are_from_one_pair_or_the_other_c42() -> None:
    one = batch(1, "A", "pair 3", 31, 30, 22)
    other = batch(2, "B", "pair 5", 28, 25, 19)
    mixed = put_together([one, other])
    assert mixed.number == counted(41)
    assert (mixed.age_said(), mixed.parents_said()) == ("28–31 dph", "pair 3 or pair 5")
    assert [(name, frozen.said()[:4]) for name, frozen in mixed.frozen] == [
        ("A", "73 %"),
        ("B", "76 %"),
    ]


def test_parts_of_one_clutch_rejoin_as_that_clutch() -> None:
    one = batch(1, "A", "pair 3", 31, 30, 22)
    part = Source(
        7, "A in L2", one.clutches, one.pairs, one.species, "", 31, 31, counted(10), counted(9)
    )
    mixed = put_together([one, part])
    assert mixed.is_one_clutch
    assert (mixed.parents_said(), mixed.age_said(), mixed.frozen) == ("pair 3", "31 dph", ())


def test_unlike_species_or_lines_are_asked_about_before_they_mix() -> None:
    plain = batch(1, "A", "pair 3", 31, 30, 22)
    for question, other in (
        ("mixed_species", batch(2, "B", "pair 5", 28, 25, 19, species="clarkii")),
        ("mixed_lines", batch(2, "B", "pair 5", 28, 25, 19, line="Quill")),
    ):
        with pytest.raises(Asked) as asked:
            put_together([plain, other])
        assert asked.value.question == question
        assert isinstance(put_together([plain, other], answers={question: "mix"}), MixedBatch)
    with pytest.raises(RuleBroken, match="Two different batches"):
        put_together([plain, plain])
