"""The thermometers of the room on one page: one field a tank, all written down or none."""

from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time
from sqlalchemy import func, select

from hatchery_app.domain.clutch.thermal_time import Reading
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.tank.thermometer import Thermometer
from hatchery_app.models.tank import Reading as ReadingRow
from hatchery_app.services.tank import thermometers
from tests.builders import LONG_AGO, make_tank, read_temperature, set_state

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
PAGE = "/tanks/thermometers"


@pytest.mark.parametrize(
    ("read", "set_to", "off"),
    [(25.9, 27.0, -1.1), (26.0, 27.0, None), (28.2, 27.0, 1.2), (None, 27.0, None),
     (20.0, None, None)],
)  # fmt: skip
def test_a_tank_is_off_where_it_stands_more_than_a_degree_from_its_heater(
    read: float | None, set_to: float | None, off: float | None
) -> None:
    last = None if read is None else Reading(NOW, read)
    assert Thermometer(1, "L1", "", last, set_to).off_by_c == off


def test_a_round_of_thermometers_is_written_down_whole_or_not_at_all(
    client, session, gannet_stair
):
    first, second, third = (make_tank(session, label) for label in ("A1", "L1", "L2"))
    dry = make_tank(session, "L3")
    for tank_id in (first, second, third):
        set_state(session, tank_id, TankState.READY, at=LONG_AGO)
    set_state(session, dry, TankState.CLEANING, at=LONG_AGO)
    typed = {f"tank-{first}": "26,4", f"tank-{second}": "265", f"tank-{third}": "", "key": "k"}
    with freeze_time(NOW):
        shown = client.get(PAGE).text
        assert shown.index("A1") < shown.index("L1")
        assert f"tank-{dry}" not in shown
        asked = client.post(PAGE, data=typed | {"when_how": "now"})
        assert asked.status_code == 422
        assert "L1: 265 °C cannot be the water of a tank" in asked.text
        assert 'value="26,4"' in asked.text
        assert session.scalar(select(func.count()).select_from(ReadingRow)) == 0
        typed |= {f"answer-tank-{second}": "26.5 C"}
        for _twice in range(2):
            assert client.post(PAGE, data=typed | {"when_how": "now"}).status_code == 303
    session.expire_all()
    written = session.execute(
        select(ReadingRow.tank_id, ReadingRow.value, ReadingRow.typed).order_by(ReadingRow.id)
    ).all()
    assert written == [(first, 26.4, "26,4"), (second, 26.5, "265")]


def test_a_tank_emptied_while_its_page_was_open_keeps_what_was_read(client, session, gannet_stair):
    wet, emptied = make_tank(session, "A1"), make_tank(session, "L1")
    set_state(session, wet, TankState.READY, at=LONG_AGO)
    set_state(session, emptied, TankState.DIRTY, at=LONG_AGO)
    typed = {f"tank-{wet}": "26.4", f"tank-{emptied}": "26.1", "when_how": "now", "key": "k"}
    with freeze_time(NOW):
        gone = client.post(PAGE, data=typed | {"tank-99999": "25"})
        assert gone.status_code == 422
        assert "stands no more" in gone.text
        assert 'value="26.1"' in gone.text
        assert client.post(PAGE, data=typed).status_code == 303
    written = session.execute(select(ReadingRow.tank_id, ReadingRow.value)).all()
    assert written == [(wet, 26.4), (emptied, 26.1)]


def test_the_page_names_who_is_off_and_who_was_not_read(client, session, gannet_stair):
    cold, unread = make_tank(session, "L1"), make_tank(session, "L2")
    for tank_id in (cold, unread):
        set_state(session, tank_id, TankState.READY, at=LONG_AGO)
    read_temperature(session, cold, "25.5", at=NOW - timedelta(hours=1))
    read_temperature(session, unread, "27", at=NOW - timedelta(days=4))
    with freeze_time(NOW):
        client.post(f"/tanks/{cold}/set-point", data={"set_point": "27", "when_how": "now"})
        shown = client.get(PAGE).text
    assert "More than a degree from their heaters at the last look: L1 1.5 colder" in shown
    assert "25.5 at 08:00, set to 27.0, 1.5 colder" in shown
    assert "no reading in three days" in shown
    assert [one.label for one in thermometers.thermometers(session, NOW)] == ["L1", "L2"]


def test_an_empty_round_is_refused_in_words(client, session, gannet_stair):
    set_state(session, make_tank(session, "L1"), TankState.READY, at=LONG_AGO)
    with freeze_time(NOW):
        answer = client.post(PAGE, data={"when_how": "now"})
    assert (answer.status_code, "Nothing was filled in" in answer.text) == (422, True)
