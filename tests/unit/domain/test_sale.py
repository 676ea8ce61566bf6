"""Sales: what arrived beside the trade's norm, the fast, the generation."""

from datetime import date

import pytest

from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.sale.sale import ArrivalLoss, Born, generation_said, last_fed_on


@pytest.mark.parametrize(
    ("sent", "dead", "said"), [(20, 1, "at the 5 %"), (20, 2, "above"), (60, 2, "within")]
)
def test_losses_on_arrival_are_said_with_both_numbers_beside_the_norm(
    sent: int, dead: int, said: str
) -> None:
    words = ArrivalLoss(sent, dead).said()
    assert words.startswith(f"{dead} of {sent} dead on arrival")
    assert said in words


def test_none_dead_is_no_percentage() -> None:
    assert ArrivalLoss(20, 0).said() == "none of 20 dead on arrival"


@pytest.mark.parametrize(("sent", "dead", "replaced"), [(20, 21, 0), (20, 1, 2), (20, 1, -1)])
def test_what_cannot_have_arrived_is_refused(sent: int, dead: int, replaced: int) -> None:
    with pytest.raises(RuleBroken):
        ArrivalLoss(sent, dead, replaced)


def test_fish_packed_on_friday_are_fed_last_on_wednesday() -> None:
    assert last_fed_on(date(2026, 11, 27)) == date(2026, 11, 25)


def test_a_generation_is_stated_only_where_both_parents_births_are_recorded() -> None:
    assert generation_said(Born.HERE, Born.HERE).startswith("second generation")
    assert generation_said(Born.WILD, Born.WILD).startswith("first generation")
    assert "not known" in generation_said(Born.HERE, Born.UNKNOWN)
