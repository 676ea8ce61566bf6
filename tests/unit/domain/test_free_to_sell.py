"""How many are free to sell, with every term named."""

import pytest

from hatchery_app.domain.cohort.free_to_sell import FreeToSell, arrival_loss_percent, check_sale
from hatchery_app.domain.errors import NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany


def test_a_batch_sold_in_pieces_c68() -> None:
    free = FreeToSell(HowMany.counted(59), held=12, kept=2)
    assert free.free == 45
    assert free.said() == "59 alive − 12 held − 2 kept = 45 free"
    check_sale(free, 45)
    with pytest.raises(RuleBroken) as refused:
        check_sale(free, 46)
    assert refused.value.sentence == (
        "46 cannot be sold: 59 alive − 12 held − 2 kept = 45 free. Release a hold first."
    )
    assert arrival_loss_percent(20, 1) == 5.0


def test_every_term_comes_off_what_is_free() -> None:
    free = FreeToSell(
        HowMany.counted(59), held=1, kept=2, barred=3, in_quarantine=4, below_sale_size=5
    )
    assert free.free == 44
    assert "3 barred − 4 in quarantine − 5 below sale size = 44 free" in free.said()


def test_a_practice_clutch_is_never_free_c56() -> None:
    free = FreeToSell(HowMany.counted(40), barred_because="practice clutch, none to leave the room")
    assert free.free == 0
    with pytest.raises(RuleBroken, match="practice clutch"):
        check_sale(free, 1)


def test_more_promised_than_alive_is_said_and_none_are_free() -> None:
    free = FreeToSell(HowMany.counted(10), held=12)
    assert (free.free, free.promised_too_many) == (0, 2)
    assert "2 too many are promised" in free.said()


def test_an_uncounted_cohort_has_nothing_free_until_it_is_counted() -> None:
    free = FreeToSell(HowMany.unknown())
    assert free.free is None
    with pytest.raises(NotKnown):
        check_sale(free, 1)
