"""Beside a loss only what differed, and named as different."""

from dataclasses import replace

import pytest

from hatchery_app.domain.stock_book.reared import Fate, Going, Reared
from hatchery_app.domain.stock_book.what_differed import Episode, Lived, Matter, beside, episodes

BAND = (26.0, 28.0)
LOSS = Episode(9, 10, 40, 0.4, (Fate.DIED,))
USUAL = Lived(
    "Batch 1 in L1", temperature_c=(26.5, 27.2), food_gap="", unmatched="", light_hours=12,
    per_litre=5.0,
)  # fmt: skip
OTHERS = [replace(USUAL, name=f"Batch {n}") for n in (2, 3, 4)]


def found(own: Lived, others: list[Lived] | None = None) -> dict[Matter, tuple[str, str]]:
    answer = beside(LOSS, own, OTHERS if others is None else others, BAND)
    return {one.matter: (one.here, one.others) for one in answer.different}


def test_nothing_recorded_differed_is_an_answer() -> None:
    answer = beside(LOSS, USUAL, OTHERS, BAND)
    assert (answer.different, answer.not_compared) == ((), ())
    assert answer.others == ("Batch 2", "Batch 3", "Batch 4")


@pytest.mark.parametrize(
    ("own", "matter", "here", "others"),
    [
        (
            replace(USUAL, temperature_c=(26.5, 31.2)), Matter.TEMPERATURE,
            "26.5–31.2 °C; its band is 26–28 °C", "26.5–27.2 °C with 3 of 3 others",
        ),
        (replace(USUAL, food_gap="a food gap was marked"), Matter.FOOD_GAP,
         "a food gap was marked", "not so with 3 of 3 others"),
        (replace(USUAL, unmatched="from 27.0 into 24.5 °C"), Matter.UNMATCHED,
         "from 27.0 into 24.5 °C", "not so with 3 of 3 others"),
        (replace(USUAL, light_hours=24), Matter.LIGHT,
         "24 hours a day", "12 hours with 3 of 3 others"),
        (replace(USUAL, barred="L1 was barred: white spots"), Matter.BARRED,
         "L1 was barred: white spots", "not so with 3 of 3 others"),
        (replace(USUAL, treated=(("salt", "salt in L1, Thu 5 Mar"),)), Matter.TREATMENT,
         "salt in L1, Thu 5 Mar", "not so with 3 of 3 others"),
        (replace(USUAL, moved="moved from L1 to L4"), Matter.MOVE,
         "moved from L1 to L4", "not so with 3 of 3 others"),
        (replace(USUAL, per_litre=9.0), Matter.CROWDING,
         "9 fish to the litre", "5 in the middle tank of 3 others, 5 at most"),
    ],
    ids=lambda value: value.value if isinstance(value, Matter) else "",
)  # fmt: skip
def test_each_matter_is_named_with_both_sides(
    own: Lived, matter: Matter, here: str, others: str
) -> None:
    assert found(own) == {matter: (here, others)}


@pytest.mark.parametrize(
    "change",
    [
        {"temperature_c": (30.0, 31.0)},
        {"food_gap": "none left"},
        {"moved": "moved"},
        {"light_hours": 24.0},
    ],
)
def test_what_was_so_with_all_of_them_is_no_difference(change: dict[str, object]) -> None:
    own = replace(USUAL, **change)  # type: ignore[arg-type]
    assert found(own, [replace(one, **change) for one in OTHERS]) == {}  # type: ignore[arg-type]


def test_what_was_not_recorded_here_or_with_any_other_is_not_compared_and_said_so() -> None:
    bare = Lived("Batch 1")
    answer = beside(LOSS, bare, OTHERS, BAND)
    assert answer.different == ()
    assert answer.not_compared == (
        "food gap: nobody looked at the food here",
        "temperature: not read here",
        "unmatched water: nobody said whether it was matched here",
        "light: not recorded here",
        "crowding: how many there were is not known here",
    )
    hot = replace(USUAL, temperature_c=(30.0, 31.0))
    answer = beside(LOSS, hot, [Lived("Batch 2")], BAND)
    assert answer.different == ()
    assert answer.not_compared[0].startswith("temperature: not read with the others; here 30.0–")
    assert "no band is known" in beside(LOSS, hot, OTHERS, None).not_compared[0]


def test_deaths_on_following_days_are_one_loss_and_a_gap_stands_by_itself() -> None:
    batch = Reared(
        1, 200,
        (
            Going(1, 1, 15, Fate.DIED), Going(2, 2, 20, Fate.PUT_DOWN), Going(3, 3, 5, Fate.DIED),
            Going(12, 12, 5, Fate.DIED), Going(4, 20, 60, Fate.MISSING),
        ), 0, 30,
    )  # fmt: skip
    first, gap = episodes(batch)
    assert (first.from_dph, first.until_dph, first.number) == (1, 3, 40)
    assert first.fates == (Fate.DIED, Fate.PUT_DOWN)
    assert first.window == (0, 3)
    assert (gap.from_dph, gap.until_dph, gap.number) == (4, 20, 60)


def test_small_losses_are_every_batchs_and_not_asked_about() -> None:
    assert episodes(Reared(1, 200, (Going(5, 5, 10, Fate.DIED),), 0, 30)) == ()
