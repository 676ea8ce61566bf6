"""The drawings of survival: what stands where, and the table of each."""

import re

import pytest

from hatchery_app.web.drawing import batches_compared, losses_by_age, survival_band
from hatchery_app.web.drawing.batches_compared import BatchesCompared, Fared, Group
from hatchery_app.web.drawing.canvas import WIDE
from hatchery_app.web.drawing.losses_by_age import BatchLosses, Loss, LossesByAge
from hatchery_app.web.drawing.survival_band import BandStep, SurvivalBand


def places(markup: str, look: str) -> list[list[float]]:
    """The numbers of each path or box with this class, in order."""
    tags = re.findall(rf'<[^>]*class="{look}"[^>]*>', markup)
    return [
        [float(one) for said in re.findall(r'="([^"]*)"', tag.split("class=")[0])
         for one in re.findall(r"-?\d+\.?\d*", said)]
        for tag in tags
    ]  # fmt: skip


CURVE = SurvivalBand(
    "Survival",
    (
        BandStep(0, 1, 1, 1, ("0", "100 %")),
        BandStep(5, 0.6, 0.5, 0.7),
        BandStep(10, 0.5, 0.4, 0.6, ("10", "50 %")),
    ),
    threads=(((4.0, 0.8), (20.0, 0.4)),),
    columns=("dph", "alive"),
)


def test_half_alive_stands_halfway_and_the_band_around_it() -> None:
    drawn = survival_band.survival_band(CURVE)
    curve = places(drawn, "d-curve")[0]
    top, foot = curve[1], places(drawn, "d-grid")[0][1]
    assert curve[-1] == pytest.approx((top + foot) / 2, abs=0.2)
    band = places(drawn, "d-band")[0]
    assert len(band) == 2 * 2 * len(CURVE.steps)


def test_a_batch_followed_longer_is_cut_where_the_drawing_ends() -> None:
    drawn = survival_band.survival_band(CURVE)
    strand, curve = places(drawn, "d-strand")[0], places(drawn, "d-curve")[0]
    assert strand[-2] == pytest.approx(curve[-2], abs=0.1)
    assert strand[-1] < curve[-1]  # 0.65 alive there, above the 0.5 of all


def test_only_the_ages_with_a_row_are_in_the_table() -> None:
    assert survival_band.numbers(CURVE).rows == (("0", "100 %"), ("10", "50 %"))


def test_a_step_outside_its_band_is_refused() -> None:
    with pytest.raises(ValueError, match="inside its band"):
        BandStep(3, 0.5, 0.6, 0.7)


LOSSES = LossesByAge(
    "Losses",
    (
        BatchLosses("Batch 2", 20, (Loss(10, 10, 0.2, "20 died"), Loss(1, 8, 0.2, "16 missing"))),
        BatchLosses("Batch 1", 20, (Loss(10, 10, 1.0, "60 died"),)),
    ),
    ((9, 11),),
)


def test_losses_of_one_age_stand_under_each_other_and_a_gap_lies_low_and_long() -> None:
    drawn = losses_by_age.losses_by_age(LOSSES)
    one, other = places(drawn, "d-loss")[:2]
    narrow, tall, full = one[2], one[3], other[3]
    assert one[0] == other[0]
    assert full == pytest.approx(losses_by_age.TALLEST)
    assert tall == pytest.approx(0.8 * losses_by_age.TALLEST)
    gap = places(drawn, "d-loss-gap")[0]
    assert gap[2] > 7 * narrow
    assert gap[3] < tall / 3
    bad = places(drawn, "d-band")[0]
    assert bad[0] < one[0] < bad[0] + bad[2]


def test_every_loss_is_in_the_table_with_its_days() -> None:
    assert losses_by_age.numbers(LOSSES).rows == (
        ("Batch 2", "10", "20 died"),
        ("Batch 2", "1–8", "16 missing"),
        ("Batch 1", "10", "60 died"),
    )


def test_without_a_loss_the_drawing_says_so() -> None:
    assert "no loss recorded" in losses_by_age.losses_by_age(LossesByAge("Losses", ()))


ROW = BatchesCompared(
    "Batches",
    (
        Group("Rusk × Tansy", (
            Fared("Batch 3", None, None, None, "Not computable"),
            Fared("Batch 2", None, None, 0.3, "under 30 %"),
            Fared("Batch 1", 0.0, 0.0, 0.06, "0 %"),
        )),
    ),
    at=0.5,
)  # fmt: skip


def test_a_batch_of_which_none_are_left_and_one_of_unknown_start_stay_in_the_row() -> None:
    drawn = batches_compared.batches_compared(ROW)
    assert drawn.count("not computable") == 2  # on the phone's drawing and the tablet's
    assert len(places(drawn, "d-open")) == 2
    zero = places(drawn, "d-open")[0]
    assert zero[0] == batches_compared.NAME_WIDTH
    assert len(places(drawn, "d-now")) == 2


def test_the_table_of_the_row_has_every_batch_under_its_group() -> None:
    found = batches_compared.numbers(ROW)
    assert found.columns == ("group", "batch", "alive")
    assert found.rows[-1] == ("Rusk × Tansy", "Batch 1", "0 %")


@pytest.mark.parametrize(
    "drawn",
    [
        survival_band.survival_band(CURVE),
        losses_by_age.losses_by_age(LOSSES),
        batches_compared.batches_compared(ROW),
    ],
    ids=["survival", "losses", "compared"],
)
def test_no_drawing_has_a_colour_of_its_own_or_runs_over_its_edge(drawn: str) -> None:
    assert "style" not in drawn
    assert "fill=" not in drawn
    numbers = [float(one) for one in re.findall(r' (?:x|cx|x1|x2)="(-?[\d.]+)"', drawn)]
    assert min(numbers) >= 0
    assert max(numbers) <= WIDE
