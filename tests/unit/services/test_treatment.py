"""Treatments of tanks: asked about, read where fish live, due on Today, corrected, taken back."""

from datetime import UTC, datetime, timedelta

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.errors import Asked, NotKnown, RuleBroken
from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.today.schedule import Outcome
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.tank import tank, treatment
from hatchery_app.services.today import task_answer
from tests.builders import make_batch, make_cohort, make_tank, set_state

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
HATCHED = NOW - timedelta(days=9, hours=12)


def at(moment: datetime = NOW, **answers: str) -> Posting:
    return Posting(now=moment, answers=answers)


def treat(session: Session, tank_id: int, what: str = "blue tub", **facts: object) -> int:
    facts = {"when": When.exactly(NOW - timedelta(days=2)), "posting": at()} | facts
    return treatment.record_treatment(session, tank_id=tank_id, what=what, **facts)  # type: ignore[arg-type]


def standing(session: Session, tank_id: int) -> list[str]:
    found = treatment.treatments_of(session, (tank_id,))[tank_id]
    return [one.what for one in found if one.goes_on(NOW)]


def test_two_in_one_water_are_asked_about_and_nothing_is_stored(
    session: Session, gannet_stair: RoomNow
) -> None:
    here = make_tank(session, "L1")
    treat(session, here)
    with pytest.raises(Asked) as asked:
        treat(session, here, "green bottle")
    assert asked.value.question == "two_treatments"
    assert "blue tub" in asked.value.sentence
    assert standing(session, here) == ["blue tub"]
    treat(session, here, "green bottle", posting=at(two_treatments="both"))
    assert standing(session, here) == ["blue tub", "green bottle"]
    treat(session, here, "salt", posting=at(two_treatments="over"))
    assert standing(session, here) == ["salt"]


def test_what_goes_into_a_shared_water_reaches_all_its_tanks(
    session: Session, gannet_stair: RoomNow
) -> None:
    tank.add_tanks(
        session, posting=at(), labels="G1–G3, 90 L", role=TankRole.GROW_OUT, system="grow-out loop",
        when=When.exactly(NOW - timedelta(days=9)),
    )  # fmt: skip
    first, second, _ = (one.tank_id for one in tank.tank_choices(session))
    other = make_tank(session, "L1")
    alone = treat(session, first)
    assert (standing(session, first), standing(session, second)) == (["blue tub"], [])
    correction.correct_entry(
        session, posting=at(), fact_id=alone, typed={"system": "grow-out loop"}
    )
    assert standing(session, second) == ["blue tub"]
    assert standing(session, other) == []
    with pytest.raises(Asked):
        treat(session, second, "green bottle")


def test_one_that_is_over_bars_nothing_and_can_be_over_once_only(
    session: Session, gannet_stair: RoomNow
) -> None:
    here = make_tank(session, "L1")
    treatment_id = treat(session, here)
    with pytest.raises(RuleBroken) as refused:
        treatment.end_treatment(
            session, posting=at(), treatment_id=treatment_id,
            when=When.exactly(NOW - timedelta(days=3)),
        )  # fmt: skip
    assert refused.value.field == "at_on"
    over = {"posting": at(), "treatment_id": treatment_id, "when": When.exactly(NOW)}
    treatment.end_treatment(session, **over)
    assert standing(session, here) == []
    with pytest.raises(RuleBroken):
        treatment.end_treatment(session, **over)
    (one,) = treatment.treatments_of(session, (here,))[here]
    correction.withdraw_entry(session, posting=at(), fact_id=one.ended_id)
    assert standing(session, here) == ["blue tub"]
    a_minute_on = at(NOW + timedelta(minutes=1))  # another act, restored by itself
    correction.withdraw_entry(session, posting=a_minute_on, fact_id=treatment_id)
    assert standing(session, here) == []
    correction.restore_entry(session, posting=at(), fact_id=treatment_id)
    assert standing(session, here) == ["blue tub"]
    with pytest.raises(NotKnown):
        treatment.end_treatment(session, posting=at(), treatment_id=here, when=When.exactly(NOW))


def test_a_correction_to_half_a_repeat_is_refused_beside_its_part(
    session: Session, gannet_stair: RoomNow
) -> None:
    treatment_id = treat(session, make_tank(session, "L1"))
    with pytest.raises(RuleBroken) as refused:
        correction.correct_entry(
            session, posting=at(), fact_id=treatment_id, typed={"every_days": "2"}
        )
    assert refused.value.field == "repeats"


def test_fish_into_treated_water_are_asked_about(
    session: Session, gannet_stair: RoomNow
) -> None:
    old, new = make_tank(session, "L1"), make_tank(session, "L2")
    batch = make_batch(session, old, number="100", hatched_at=HATCHED)
    set_state(session, new, TankState.READY, at=NOW - timedelta(days=3))
    treat(session, new, barred="new fish")
    move = {"holding_id": batch, "parts": [larval_tank.Part(new, HowMany.counted(40))],
            "when": When.exactly(NOW)}  # fmt: skip
    with pytest.raises(Asked) as asked:
        larval_tank.move_batch(session, posting=at(), **move)
    assert asked.value.question == "tank_treated"
    assert "Meanwhile no: new fish" in asked.value.sentence
    larval_tank.move_batch(session, posting=at(tank_treated="put"), **move)


def test_tank_batch_and_cohort_say_it_and_today_asks_for_the_repeat(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    nursery, grow = make_tank(session, "L1"), make_tank(session, "G1", role=TankRole.GROW_OUT)
    batch = make_batch(session, nursery, number="100", hatched_at=HATCHED)
    fish = make_cohort(
        session, grow, hatched_at=NOW - timedelta(days=90), settled_at=NOW - timedelta(days=70),
        larval_tank_id=make_tank(session, "L2"),
    )  # fmt: skip
    for tank_id in (nursery, grow):
        treat(session, tank_id, amount="one scoop", barred="carbon", every_days=2, repeats=2)
    with freeze_time(NOW):
        for address in (f"/tanks/{nursery}", f"/larval-tanks/{batch}", f"/cohorts/{fish}"):
            page = client.get(address).get_data(as_text=True)
            assert "blue tub, one scoop" in page, address
            assert "Meanwhile no: carbon" in page, address
        today = client.get("/?round=morning").get_data(as_text=True)
        assert "Treatment again: blue tub" in today
        assert today.count("2 of 3; you wrote one scoop") == 2
        assert "G1: blue tub, due morning" in today.split("<section")[0]
    name = str(treatment.treatments_of(session, (grow,))[grow][0].name_of(2))
    task_answer.answer_task(session, posting=at(), task=name, outcome=Outcome.DONE)
    with freeze_time(NOW):
        assert "G1: blue tub" not in client.get("/").get_data(as_text=True).split("<section")[0]
        page = client.get(f"/tanks/{grow}").get_data(as_text=True)
        assert "2. Tue 24 Nov, morning" in page
        assert "given, answered" in page
        assert "3. Thu 26 Nov, morning" in page
    with freeze_time(NOW + timedelta(days=1)):
        head = client.get("/?round=morning").get_data(as_text=True).split("<section")[0]
        assert "L1: blue tub, overdue" in head
        assert "G1: blue tub" not in head


def test_the_form_keeps_what_was_typed_and_cautions(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    here = make_tank(session, "L1")
    path = f"/tanks/{here}/treatment"
    typed = {"what": "blue tub", "amount": "one scoop", "until": "goes_on", "every_days": "2",
             "when_how": "now"}  # fmt: skip
    with freeze_time(NOW):
        page = client.get(path).get_data(as_text=True)
        for caution in ("Follow the label", "licensed vet", "do not mix", "live food"):
            assert caution in page
        refused = client.post(path, data=typed)
        assert refused.status_code == 422
        page = refused.get_data(as_text=True)
        assert "how many times more" in page
        assert 'value="one scoop"' in page
        assert client.post(path, data=typed | {"repeats": "1"}).status_code == 303
        later = typed | {"what": "dip", "until": "was_over", "over_on": "2026-11-23",
                         "answer-two_treatments": "both", "repeats": "1"}  # fmt: skip
        assert "over before it began" in client.post(path, data=later).get_data(as_text=True)
        (one,) = treatment.treatments_of(session, (here,))[here]
        over = f"/tanks/treatments/{one.treatment_id}/over"
        assert client.post(over, data={"when_how": "now"}).status_code == 303
        assert standing(session, here) == []


def test_a_first_one_that_was_over_later_is_said_to_be_over_earlier_and_ends_once(
    session: Session, gannet_stair: RoomNow
) -> None:
    here = make_tank(session, "L1")
    treat(session, here, over=When.exactly(NOW - timedelta(hours=2)))
    then = When.exactly(NOW - timedelta(days=1))
    treat(session, here, "salt", when=then, posting=at(two_treatments="over"))
    found = treatment.treatments_of(session, (here,))[here]
    assert [(one.what, one.ended) for one in found] == [("blue tub", then), ("salt", None)]
