"""Eggs that are found: laid between the last look at the pair's nest and now."""

import re
from datetime import UTC, datetime

from freezegun import freeze_time
from sqlalchemy import select

from hatchery_app.domain.tank.tank import TankRole
from hatchery_app.models.clutch import Laying
from hatchery_app.models.entry import known
from hatchery_app.services.recording import Posting
from hatchery_app.services.today import task_answer
from tests.builders import make_pair, make_tank

FOUND_AT = datetime(2026, 11, 24, 9, 12, tzinfo=UTC)
FED_AT = datetime(2026, 11, 23, 17, 20, tzinfo=UTC)


@freeze_time(FOUND_AT)
def test_eggs_found_are_laid_since_the_last_look_in_one_tap(client, session, gannet_stair):
    """What was fed on the round on which they were found is no look before it."""
    tank_id = make_tank(session, "A4", litres=76, role=TankRole.BROODSTOCK)
    pair_id = make_pair(session, "Merle", "Ditto", tank_id=tank_id)
    address = f"/spawns/of/{pair_id}"
    assert re.search(r"last looked Mon 23 Nov 1[5-8]:\d\d \(the evening", client.get(address).text)
    for at, turn in ((FED_AT, "2026-11-23.before-lights-off"), (FOUND_AT, "2026-11-24.morning")):
        task_answer.answer_done(
            session, posting=Posting(now=at), tasks=[f"feed_pair:{pair_id}:{turn}"]
        )
    page = client.get(address).text
    assert "last looked Mon 23 Nov 17:20 (fed then)" in page
    looked = re.search(r'name="last_looked" value="([^"]+)"', page)
    assert looked
    sent = client.post(
        address, data={"when_how": "found", "last_looked": looked[1], "key": "f" * 9}
    )
    assert sent.status_code == 303
    (laying,) = session.scalars(select(Laying).where(known())).all()
    assert (laying.when.earliest, laying.when.latest) == (FED_AT, FOUND_AT)


@freeze_time(FOUND_AT)
def test_nothing_is_taken_for_laid_just_now_that_nobody_said(client, session, gannet_stair):
    tank_id = make_tank(session, "A4", litres=76, role=TankRole.BROODSTOCK)
    address = f"/spawns/of/{make_pair(session, 'Merle', 'Ditto', tank_id=tank_id)}"
    assert " checked" not in client.get(address).text.partition("eggs_how")[0]
    for typed in ({}, {"when_how": "found", "last_looked": "2026-11-25T09:00+00:00"}):
        refused = client.post(address, data=typed | {"eggs": "about 300", "key": "n" * 9})
        assert refused.status_code == 422
        assert "about 300" in refused.text
    assert session.scalars(select(Laying)).all() == []
