"""A hatch found late, as a keeper meets it: written between two looks, read off the pages."""

from datetime import date, datetime, time
from typing import Any

import pytest
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.when import Night, When
from hatchery_app.services.clutch import clutch, clutch_watch
from hatchery_app.services.clutch.clutch_facts import load_clutch
from hatchery_app.services.recording import Posting
from hatchery_app.services.species.library import library
from tests.builders import make_tank, read_temperature
from tests.cases.test_forecast_page_cases import laid, nest, set_up, words
from tests.conftest import signed_in


def test_c03_a_hatch_found_two_days_late_may_be_of_either_night(
    session: Session, owner: Any, app: Any
) -> None:
    """C03 of a hatch: looked Mon 21:00, found Wed 08:00. Both nights are kept, everywhere."""
    here = set_up(session, owner, "Europe/Lisbon")

    def at(day: int, hour: int) -> datetime:
        return here.room_time.at(date(2026, 11, day), time(hour))

    tank_id, pair_id = nest(session)
    clutch_id = laid(session, pair_id, at(16, 12))
    for day in range(16, 25):
        read_temperature(session, tank_id, "27.0", at=at(day, 13))
    nursery = make_tank(session, "L1", at=at(16, 9))
    typed = {
        "when_how": "between", "from_on": "2026-11-23", "from_time": "21:00",
        "until_on": "2026-11-25", "until_time": "08:00", "how_much": "all", "key": "l" * 9,
    }  # fmt: skip
    browser = signed_in(app, owner)
    with freeze_time(at(25, 9)):
        assert browser.post(f"/clutches/{clutch_id}/hatch", data=typed).status_code == 303
        shown = words(browser.get(f"/clutches/{clutch_id}"))
        assert "hatched on one of the nights Mon 23 – Tue 24 Nov" in shown
        (part,) = load_clutch(session, here, clutch_id).hatches
        into = {
            "hatch_id": str(part.fact_id), "tank_1": str(nursery), "number_1": "80",
            "when_how": "now", "key": "m" * 9,
        }  # fmt: skip
        put = browser.post("/larval-tanks/put", data=into)
        assert "1–2 dph" in words(browser.get(put.headers["Location"]))
        correct = words(browser.get(f"/records/{part.fact_id}/correct"))
        assert "Or as late as the night of" in correct
        replay = words(browser.get(f"/clutches/{clutch_id}/replay"))
        assert "Hatched on one of the nights Mon 23 – Tue 24 Nov, night 7–8." in replay
        score = words(browser.get("/clutches/score"))
        assert "Found late, so that it may have been any of several nights: 1." in score
    after = at(28, 9)
    told = clutch_watch.told_by(load_clutch(session, here, clutch_id), here, library(), after)
    assert told.interval is not None
    assert told.interval.up_to_dd is not None
    two_days_dd = 2 * (27 - 16)  # from the end of Sunday night's hatch hours to Tuesday night's
    assert told.interval.up_to_dd - told.interval.beyond_dd == pytest.approx(
        two_days_dd,
        abs=0.5,  # the last hours were not read
    )

    # A watch told of afterwards: none until five in the morning leaves one night only.
    clutch.record_check(
        session, posting=Posting(now=at(25, 9)), clutch_id=clutch_id,
        kind=CheckKind.WATCHED_NONE, when=When.exactly(at(24, 5)),
    )  # fmt: skip
    (part,) = load_clutch(session, here, clutch_id).hatches
    assert part.nights == NightSpan.sure(Night(date(2026, 11, 24)))
    with freeze_time(at(25, 9)):
        batch = words(browser.get(put.headers["Location"]))
    assert "1 dph" in batch
    assert "1–2 dph" not in batch
