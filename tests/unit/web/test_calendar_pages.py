"""The calendar feed: parsed back, whole days and hours, through a clock change, and revoked."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from flask import Flask
from flask.testing import FlaskClient
from freezegun import freeze_time
from icalendar import Calendar
from sqlalchemy.orm import Session

from hatchery_app.domain.when import When
from hatchery_app.models.clutch import Clutch
from hatchery_app.services.clutch import clutch_brood
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import correction
from hatchery_app.services.sale import sale
from hatchery_app.services.spawn import spawn
from hatchery_app.services.today import today_calendar
from tests.builders import (
    make_batch,
    make_cohort,
    make_fish,
    make_pair,
    make_tank,
    read_temperature,
)

LISBON = ZoneInfo("Europe/Lisbon")
NOW = datetime(2026, 11, 24, 9, tzinfo=UTC)


def address_of(client: FlaskClient, session: Session) -> str:
    """Make an address through the page; gives its path."""
    assert client.post("/today/calendar/make").status_code == 303
    made = today_calendar.address_now(session)
    assert made is not None
    return f"/calendar/{made.token}.ics"


def events_at(client: FlaskClient, path: str, at: datetime) -> dict[str, Any]:
    """The feed of a moment parsed back, by the first part of each UID."""
    with freeze_time(at):
        answer = client.get(path)
    assert answer.status_code == 200
    assert answer.mimetype == "text/calendar"
    parsed = Calendar.from_ical(answer.data)
    assert not parsed.errors
    found = parsed.walk("VEVENT")
    uids = [str(event["uid"]) for event in found]
    assert len(set(uids)) == len(uids)
    assert not any(event.errors for event in found)
    return {uid.partition("@")[0]: event for uid, event in zip(uids, found, strict=True)}


def lay(session: Session, label: str, at: datetime) -> int:
    """A pair lays at 26.5 °C in a tank of its own; gives the clutch."""
    tank_id = make_tank(session, label)
    pair_id = make_pair(session, f"Rusk {label}", f"Tansy {label}", tank_id=tank_id)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=at), pair_id=pair_id, when=When.exactly(at)
    )
    read_temperature(session, tank_id, "26.5", at=at)
    return clutch_id


def test_a_hatch_stands_as_hours_to_watch_and_as_days_of_its_window(
    client: FlaskClient, session: Session
) -> None:
    clutch_id = lay(session, "B1", NOW - timedelta(days=4))
    found = events_at(client, address_of(client, session), NOW)
    watch, window = found[f"hatch-watch-{clutch_id}"], found[f"hatch-window-{clutch_id}"]
    begins, ends = watch["dtstart"].dt, watch["dtend"].dt
    assert begins.utcoffset() == timedelta(0)
    assert begins.astimezone(LISBON).strftime("%H:%M") == "20:15"
    assert timedelta(0) < ends - begins < timedelta(hours=12)
    first, after = window["dtstart"].dt, window["dtend"].dt
    assert type(first) is date
    assert type(after) is date
    assert window["dtstart"].params["VALUE"] == "DATE"
    assert first <= begins.astimezone(LISBON).date() < after
    assert "Clutch 1, Rusk B1 and Tansy B1" in str(watch["summary"])
    nights = [event["dtstart"].dt.astimezone(LISBON) for name, event in found.items()
              if name.startswith("hatch-watch")]  # fmt: skip
    assert {each.strftime("%H:%M") for each in nights} == {"20:15"}
    window_days = [first + timedelta(days=n) for n in range((after - first).days)]
    assert sorted(each.date() for each in nights) == window_days
    assert len(nights) > 1
    assert "of 10 such clutches hatch this night" in str(watch["description"])
    assert watch["transp"] == "OPAQUE"
    assert window["transp"] == "TRANSPARENT"


def test_hours_keep_to_the_rooms_clock_on_both_sides_of_a_clock_change(
    client: FlaskClient, session: Session
) -> None:
    """Lisbon's clocks went back on Sun 25 Oct 2026 at 02:00: 20:15 is an hour later in UTC."""
    before = lay(session, "B1", datetime(2026, 10, 16, 15, tzinfo=UTC))
    after = lay(session, "B2", datetime(2026, 10, 17, 15, tzinfo=UTC))
    now = datetime(2026, 10, 20, 9, tzinfo=UTC)
    found = events_at(client, address_of(client, session), now)
    starts = [found[f"hatch-watch-{each}"]["dtstart"].dt for each in (before, after)]
    assert [each.astimezone(LISBON).strftime("%H:%M") for each in starts] == ["20:15", "20:15"]
    assert [each.astimezone(UTC).hour for each in starts] == [19, 20]
    assert starts[1] - starts[0] == timedelta(hours=25)


def test_a_corrected_laying_moves_its_event_and_makes_no_second(
    client: FlaskClient, session: Session
) -> None:
    laid = NOW - timedelta(days=4)
    clutch_id = lay(session, "B1", laid)
    path = address_of(client, session)
    old = events_at(client, path, NOW)
    laying_id = session.query(Clutch).filter_by(fact_id=clutch_id).one().laying_id
    correction.correct_entry(
        session, posting=Posting(now=NOW, answers={"together": "shift"}), fact_id=laying_id,
        typed={}, when=When.exactly(laid - timedelta(days=1)),
    )  # fmt: skip
    new = events_at(client, path, NOW + timedelta(minutes=10))
    assert old.keys() == new.keys()
    name = f"hatch-watch-{clutch_id}"
    assert old[name]["uid"] == new[name]["uid"]
    assert old[name]["dtstart"].dt - new[name]["dtstart"].dt == timedelta(days=1)
    assert new[name]["sequence"] > old[name]["sequence"]
    assert new[name]["dtstamp"].dt > old[name]["dtstamp"].dt
    assert new[name]["last-modified"].dt >= old[name]["last-modified"].dt


def test_the_sequence_rises_by_day_as_well_because_forecasts_move_with_time(
    client: FlaskClient, session: Session
) -> None:
    clutch_id = lay(session, "B1", NOW - timedelta(days=4))
    path, name = address_of(client, session), f"hatch-watch-{clutch_id}"
    today, tomorrow = (events_at(client, path, NOW + timedelta(days=n))[name] for n in (0, 1))
    assert tomorrow["sequence"] == today["sequence"] + 1


def test_larvae_holds_and_carried_broods_are_whole_days(
    client: FlaskClient, session: Session
) -> None:
    larval, nursery, nest = (make_tank(session, label) for label in ("L1", "L2", "B9"))
    grow_out = make_tank(session, "G1")
    read_temperature(session, larval, "26.8", at=NOW - timedelta(hours=2))
    batch_id = make_batch(session, larval, hatched_at=datetime(2026, 11, 21, 21, tzinfo=UTC))
    cohort_id = make_cohort(
        session, grow_out, hatched_at=datetime(2026, 8, 1, 20, tzinfo=UTC),
        settled_at=datetime(2026, 8, 20, 10, tzinfo=UTC), larval_tank_id=nursery,
    )  # fmt: skip
    held_id = sale.place_hold(
        session, posting=Posting(now=NOW), holding_id=cohort_id, number=5,
        when=When.exactly(NOW), for_whom="A. Buyer, 12 Sea Road", until_on=date(2026, 12, 1),
    )  # fmt: skip
    male = make_fish(session, "Quill", species_key="pterapogon_kauderni", tank_id=nest)
    brood_id = clutch_brood.record_holding(
        session, posting=Posting(now=NOW), carrier_id=male, when=When.exactly(NOW)
    )
    path = address_of(client, session)
    found = events_at(client, path, NOW)
    for name in (f"settlement-{batch_id}", f"to-grow-out-{batch_id}", f"hold-ends-{held_id}",
                 f"brood-window-{brood_id}"):  # fmt: skip
        assert type(found[name]["dtstart"].dt) is date, name
    assert found[f"hold-ends-{held_id}"]["dtend"].dt == date(2026, 12, 2)
    with freeze_time(NOW):
        text = client.get(path).text
    assert "Buyer" not in text
    assert "Sea Road" not in text


def test_words_with_commas_and_semicolons_come_back_as_they_were(
    client: FlaskClient, session: Session
) -> None:
    tank_id = make_tank(session, "B1")
    pair_id = make_pair(session, "Rusk; old, grey", "Tansy\\two", tank_id=tank_id)
    at = NOW - timedelta(days=4)
    clutch_id = spawn.record_laying(
        session, posting=Posting(now=at), pair_id=pair_id, when=When.exactly(at)
    )
    read_temperature(session, tank_id, "26.5", at=at)
    path = address_of(client, session)
    event = events_at(client, path, NOW)[f"hatch-watch-{clutch_id}"]
    assert str(event["location"]) == "B1"
    assert "Rusk; old, grey and Tansy\\two" in str(event["summary"])
    with freeze_time(NOW):
        raw = client.get(path).text.replace("\r\n ", "")
    assert "Rusk\\; old\\, grey" in raw


def test_the_feed_opens_without_signing_in_and_nothing_else_does(
    app: Flask, client: FlaskClient, session: Session
) -> None:
    path = address_of(client, session)
    stranger = app.test_client()
    assert stranger.get(path).status_code == 200
    assert stranger.get("/today/calendar").status_code == 302
    assert stranger.post("/today/calendar/make").status_code == 302


@pytest.mark.parametrize("token", ["x", "a" * 32, "%00", "é"])
def test_a_wrong_address_is_not_there(client: FlaskClient, session: Session, token: str) -> None:
    address_of(client, session)
    assert client.get(f"/calendar/{token}.ics").status_code == 404


def test_a_revoked_address_answers_nothing_and_a_new_one_replaces_the_old(
    client: FlaskClient, session: Session
) -> None:
    first = address_of(client, session)
    second = address_of(client, session)
    assert first != second
    assert client.get(first).status_code == 404
    assert client.get(second).status_code == 200
    page = client.get("/today/calendar").text
    assert second in page
    assert "Anyone who has this address can read the calendar" in page
    assert client.post("/today/calendar/revoke").status_code == 303
    assert client.get(second).status_code == 404
    assert second not in client.get("/today/calendar").text
    again = client.post("/today/calendar/revoke")
    assert again.status_code == 422
    assert "no address to revoke" in again.text
