"""Field cases of counts, recounts and reports that meet, through the pages a keeper uses."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.clutch.clutch import CheckKind, eggs_left_said
from hatchery_app.domain.how_many import Basis, HowMany, parse
from hatchery_app.domain.species.species import BroodMode
from hatchery_app.domain.when import When
from hatchery_app.services.clutch import clutch_facts
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import counting
from hatchery_app.services.stock_book.holding_facts import load_stock
from tests.builders import make_batch, make_cohort, make_hatch, make_pair, make_tank

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def in_november() -> Iterator[None]:
    with freeze_time(NOW):
        yield


def words(client: FlaskClient, path: str) -> str:
    page = client.get(path)
    assert page.status_code == 200
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.text)).split())


def lay(session: Session, eggs: str, *, days_ago: int = 11) -> int:
    laid = NOW - timedelta(days=days_ago)
    return spawn.record_laying(
        session, posting=Posting(now=laid), when=When.exactly(laid), eggs=parse(eggs),
        pair_id=make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1")),
    )  # fmt: skip


def look(client: FlaskClient, eggs: int, **said: str) -> int:
    return client.post(f"/clutches/{eggs}/check", data={"what": "eggs", **said}).status_code


# --- C16: parents clear most of the clutch ----------------------------------------------------


@pytest.mark.parametrize(
    ("first", "left", "said"),
    [
        ("about 200", {"how": "one_by_one", "number": "about 30"},
         "about 30 of about 200, about 15 %"),
        ("200", {"how": "one_by_one", "number": "30"}, "30 counted of 200 counted, 15 %"),
        ("180-220", {"how": "one_by_one", "number": "25-35"},
         "25–35 of 180–220, about 15 % (11–19 %)"),
        ("about 200", {"how": "a_look", "look": "at least so many", "look_number": "20"},
         "at least 20 of about 200, at least 10 %"),
        ("about 200", {"how": "a_look", "look": "a few"}, "“a few”"),
        ("?", {"how": "one_by_one", "number": "30"}, "30 counted,"),
        ("about 20", {"how": "one_by_one", "number": "30"}, "that count was too low"),
    ],
)  # fmt: skip
def test_c16_parents_clear_most_of_the_clutch(
    client: FlaskClient, session: Session, first: str, left: dict[str, str], said: str
) -> None:
    eggs = lay(session, first)
    assert look(client, eggs, **left) == 303
    page = words(client, f"/clutches/{eggs}")
    assert f"eggs left {said}" in page or said in page
    assert "fertilised" not in page
    assert "hatch rate" not in page
    assert "mortality" not in page


def test_c16_both_counts_say_that_they_are_estimates(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    eggs = lay(session, "about 200")
    look(client, eggs, how="a_look", look="about so many", look_number="30")
    (found,) = clutch_facts.load_clutches(session, gannet_stair, clutch_ids=[eggs])
    (seen,) = [check.number for check in found.checks if check.kind is CheckKind.EGGS]
    assert {found.eggs.basis, seen.basis} == {Basis.ABOUT}


def test_c16_without_a_number_at_the_laying_the_first_look_is_the_first_count() -> None:
    assert eggs_left_said(parse("190-210"), parse("30")).endswith("about 15 % (14–16 %)")
    assert eggs_left_said(HowMany.unknown(), parse("30")) == "30 counted"
    assert eggs_left_said(parse("0"), parse("0")) == "0 counted"


# --- C25: eggs by area ------------------------------------------------------------------------

SQUARES = {"how": "squares", "squares": "38, 41, 35", "length_cm": "5.2", "width_cm": "4.8",
           "square_cm2": "1"}  # fmt: skip


def test_c25_counting_eggs_by_area(client: FlaskClient, session: Session) -> None:
    eggs = lay(session, "?", days_ago=2)
    assert look(client, eggs, **SQUARES) == 303
    page = words(client, f"/clutches/{eggs}")
    assert "745 (599–891), 3 squares of 1 cm² on 19.6 cm²" in page
    assert "745 counted" not in page
    fact = re.search(r"eggs left: 745", page)
    assert fact is not None


@pytest.mark.parametrize(
    ("changed", "number", "line"),
    [
        ({}, "745 (599–891)", "38.0 a square"),
        ({"squares": "38 41 35", "length_cm": "52 mm", "width_cm": "48 mm"}, "745 (", "19.6 cm²"),
        ({"squares": "10, 9, 10", "square_cm2": "0.25"}, "758 (", "squares of 0.25 cm²"),
        ({"squares": "38"}, "745 (", "from the 38 counted alone"),
        ({"squares": "38,41,35,37,40,36"}, "742 (", "19.6 cm²"),
        ({"length_cm": "2 in", "width_cm": "2 in"}, "770 (", "20.3 cm²"),
    ],
)
def test_c25_near_variants_are_worked_out_before_they_are_saved(
    client: FlaskClient, session: Session, changed: dict[str, str], number: str, line: str
) -> None:
    eggs = lay(session, "?", days_ago=2)
    form = {"what": "eggs", **SQUARES, **changed, "work_out": "yes"}
    page = client.post(f"/clutches/{eggs}/check", data=form)
    assert page.status_code == 200
    said = " ".join(re.sub(r"<[^>]+>", " ", page.text).split())
    assert number in said
    assert line in said
    advised = "Count more squares to narrow it." in said
    assert advised is (len(form["squares"].replace(",", " ").split()) < 6)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"squares": "38, some"}, "Write each sample"),
        ({"length_cm": "0"}, "more than 0"),
        ({"width_cm": "wide"}, "not a figure"),
        ({"square_cm2": "30"}, "do not fit in a patch"),
        ({"squares": ""}, "Write each sample"),
    ],
)
def test_c25_what_cannot_be_comes_back_with_all_that_was_typed(
    client: FlaskClient, session: Session, changed: dict[str, str], sentence: str
) -> None:
    eggs = lay(session, "?", days_ago=2)
    answer = client.post(
        f"/clutches/{eggs}/check",
        data={"what": "eggs", **SQUARES, **changed, "note": "left half is thin"},
    )
    assert answer.status_code == 422
    assert sentence in unescape(answer.text)
    assert "left half is thin" in answer.text


# --- C26: weighed subsamples, loose eggs only ---------------------------------------------------

WEIGHED = {"how": "weighed", "weighed": "1.5 g 36\n1.6 g 35\n1.9 g 41", "total_g": "316.8"}


@pytest.fixture
def loose(monkeypatch: pytest.MonkeyPatch) -> None:
    """The room's own species file says that the eggs of this species drift."""
    known = library.library()["amphiprion_ocellaris"]
    drifting = replace(known, brood_mode=BroodMode.PELAGIC)
    monkeypatch.setattr(counting.library, "species_or_none", lambda _key: drifting)


def test_c26_weighed_subsamples_of_loose_eggs(
    client: FlaskClient, session: Session, loose: None
) -> None:
    eggs = lay(session, "?", days_ago=1)
    assert "weighed samples" in words(client, f"/clutches/{eggs}/check")
    form = {"what": "eggs", **WEIGHED}
    tried = client.post(f"/clutches/{eggs}/check", data=form | {"work_out": "yes"})
    assert "7096 (" in tried.text
    assert "7,123" in tried.text
    assert client.post(f"/clutches/{eggs}/check", data=form).status_code == 303
    assert "7096 (6100–8092), 3 weighed samples, 5 g of 316.8 g" in words(
        client, f"/clutches/{eggs}"
    )


@pytest.mark.parametrize(
    ("typed", "total", "said"),
    [
        ("1.5/36, 1.6/35, 1.9/41", "316.8 g", "7096 ("),
        ("1,5 g 36; 1,6 g 35; 1,9 g 41", "316,8", "7096 ("),
        ("1.5 g 36\n1.6 g 35", "0.3168 kg", "7256 ("),
        ("1.5 g 36", "316.8", "at least two"),
        ("1.5 g 0\n1.6 g 0", "316.8", "No egg was counted"),
        ("1.5 g 36\n1.6 g 35", "2", "more than the whole"),
        ("heavy", "316.8", "Write each weight with its eggs"),
    ],
)
def test_c26_near_variants(
    client: FlaskClient, session: Session, loose: None, typed: str, total: str, said: str
) -> None:
    eggs = lay(session, "?", days_ago=1)
    page = client.post(f"/clutches/{eggs}/check", data={
        "what": "eggs", "how": "weighed", "weighed": typed, "total_g": total, "work_out": "yes",
    })  # fmt: skip
    assert said in unescape(page.text)


def test_c26_weighing_is_never_offered_for_eggs_that_are_glued_down(
    client: FlaskClient, session: Session
) -> None:
    eggs = lay(session, "?", days_ago=1)
    assert "weighed samples" not in words(client, f"/clutches/{eggs}/check")
    refused = client.post(f"/clutches/{eggs}/check", data={"what": "eggs", **WEIGHED})
    assert refused.status_code == 422
    assert "eggs left:" not in words(client, f"/clutches/{eggs}")


# --- C28, C30, C40: through the pages -----------------------------------------------------------


def test_c28_the_tank_that_does_badly_stays_visible(
    client: FlaskClient, session: Session
) -> None:
    tanks = [make_tank(session, label) for label in ("A", "B", "C")]
    night = NOW - timedelta(hours=13)
    hatch = make_hatch(
        session, hatched_at=night, number="160",
        pair_id=make_pair(session, "Rusk", "Tansy", tank_id=make_tank(session, "B1")),
    )  # fmt: skip
    form = {"hatch_id": str(hatch), "note_1": "poured, the neck is narrow"}
    for place, (tank, number) in enumerate(zip(tanks, (40, 60, 60), strict=True), start=1):
        form |= {f"tank_{place}": str(tank), f"number_{place}": str(number)}
    put = client.post("/larval-tanks/put", data=form)
    assert put.status_code == 303
    left = client.post(f"{put.location}/left", data={"door": "died", "number": "17"})
    assert left.status_code == 303
    page = words(client, put.location)
    assert "58 % alive (23 counted of 40 counted" in page
    assert "89 % alive (143 counted of 160 counted" in page
    assert "poured, the neck is narrow" in page


def young(session: Session, number: str, *, days: int = 4) -> int:
    hatched = NOW - timedelta(days=days)
    return make_batch(session, make_tank(session, "L1"), number=number, hatched_at=hatched)


def count(client: FlaskClient, batch: int, number: str, **more: str) -> tuple[int, str]:
    form = {"how": "one_by_one", "number": number} | more
    answer = client.post(f"/larval-tanks/{batch}/count", data=form)
    return answer.status_code, unescape(answer.text)


def test_c30_the_count_goes_up(client: FlaskClient, session: Session) -> None:
    batch = young(session, "7")
    client.post(f"/larval-tanks/{batch}/left", data={"door": "died", "number": "1"})
    status, asked = count(client, batch, "7")
    assert status == 422
    assert "1 more. Missed earlier, or a new arrival?" in asked
    saved, _ = count(client, batch, "7", **{"answer-count_above": "missed_earlier"})
    assert saved == 303
    page = words(client, f"/larval-tanks/{batch}")
    assert "88 % alive (7 counted of 8 counted" in page
    assert "114 %" not in page


@pytest.mark.parametrize(
    ("start", "seen", "answer", "share"),
    [
        ("7", "9", "missed_earlier", "100 % alive (9 counted of 9 counted"),
        ("about 7", "9", "missed_earlier", "alive (9 counted of about 9"),
        ("7", "9", "new_arrival", "of 9 counted"),
        ("?", "9", "", "Not computable"),
        ("at least 7", "9", "", "Not computable"),
        ("5-8", "9", "missed_earlier", "alive (9 counted"),
    ],
)
def test_c30_survival_is_never_above_all_of_them(
    client: FlaskClient, session: Session, start: str, seen: str, answer: str, share: str
) -> None:
    batch = young(session, start)
    status, asked = count(client, batch, seen)
    if answer:
        assert status == 422
        assert "Missed earlier, or a new arrival?" in asked
        status, _ = count(client, batch, seen, **{"answer-count_above": answer})
    assert status == 303
    page = words(client, f"/larval-tanks/{batch}")
    assert share in page
    assert not [int(one) for one in re.findall(r"(\d+) % alive", page) if int(one) > 100]


@pytest.mark.parametrize(
    ("second", "more", "lost", "missing"),
    [
        ("48", {"bodies": "5"}, "5 counted died (bodies found)", "8 counted unexplained"),
        ("48", {"answer-fewer": "none_seen"}, "", "13 counted unexplained"),
        ("48", {"bodies": "13"}, "13 counted died (bodies found)", ""),
        ("0", {"bodies": "2"}, "2 counted died (bodies found)", "59 counted unexplained"),
        ("40-50", {"bodies": "5"}, "5 counted died (bodies found)", "unexplained"),
        ("61", {}, "", ""),
    ],
)
def test_c40_deaths_found_late_are_a_band(
    client: FlaskClient, session: Session,
    second: str, more: dict[str, str], lost: str, missing: str,
) -> None:  # fmt: skip
    batch = young(session, "61", days=30)
    with freeze_time(NOW - timedelta(days=22)):
        assert count(client, batch, "61")[0] == 303
    assert count(client, batch, second, **more)[0] == 303
    page = words(client, f"/larval-tanks/{batch}")
    assert lost in page
    assert missing in page
    assert ("unexplained since Mon 2 Nov" in page) is bool(missing)
    died = re.search(r"(\S+ \S+ \S+[^.]{0,40}?) \d+ counted died \(bodies found\)", page)
    assert died is None or "2 Nov" in died[1], "a band from the last look, no spike today"


def test_c40_more_bodies_than_there_were_are_refused_with_the_sum(
    client: FlaskClient, session: Session
) -> None:
    batch = young(session, "61")
    status, said = count(client, batch, "0", bodies="62")
    assert status == 422
    assert "held 61 counted" in said


# --- late entries re-sort -----------------------------------------------------------------------


def grown(session: Session, number: str) -> int:
    return make_cohort(
        session, make_tank(session, "G1"), number=number, hatched_at=NOW - timedelta(days=120),
        settled_at=NOW - timedelta(days=100), larval_tank_id=make_tank(session, "L9"),
    )  # fmt: skip


def gone(client: FlaskClient, cohort: int, number: str, day: int, **more: str) -> tuple[int, str]:
    form = {"door": "died", "number": number, "when_how": "at", "at_on": f"2026-11-{day:02}",
            "at_time": "09:00"}  # fmt: skip
    answer = client.post(f"/cohorts/{cohort}/gone", data=form | more)
    return answer.status_code, unescape(answer.text)


def test_a_late_death_re_sorts_and_leaves_the_later_count_as_it_was(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    cohort = grown(session, "60")
    saved = client.post(f"/cohorts/{cohort}/count", data={
        "how": "one_by_one", "number": "55", "answer-fewer": "none_seen", "when_how": "at",
        "at_on": "2026-11-20", "at_time": "09:00"})  # fmt: skip
    assert saved.status_code == 303
    assert gone(client, cohort, "3", 18)[0] == 303
    balance = load_stock(session, gannet_stair, holding_ids=[cohort]).balance(cohort)
    assert (balance.best, balance.lost.best, balance.unexplained.best) == (55, 3, 2)


def test_a_late_death_that_a_counted_balance_does_not_bear_is_refused_in_order(
    client: FlaskClient, session: Session
) -> None:
    cohort = grown(session, "20")
    for number, day in (("12", 15), ("7", 18)):
        assert gone(client, cohort, number, day)[0] == 303
    status, said = gone(client, cohort, "5", 10)
    assert status == 422
    assert "Too few would be left for what is entered later" in said
    assert re.search(r"18 Nov.*: 7 died, 3 there", said)


def test_from_an_estimated_start_it_is_asked_and_the_start_is_raised(
    client: FlaskClient, session: Session, gannet_stair: RoomNow
) -> None:
    cohort = grown(session, "about 20")
    assert gone(client, cohort, "15", 15)[0] == 303
    status, said = gone(client, cohort, "8", 10)
    assert status == 422
    assert "Were there more than estimated?" in said
    assert gone(client, cohort, "8", 10, **{"answer-more_than_best": "raise"})[0] == 303
    balance = load_stock(session, gannet_stair, holding_ids=[cohort]).balance(cohort)
    assert balance.start.best == 23


# --- C75: two reports of one hatch --------------------------------------------------------------


@pytest.mark.parametrize(
    ("helper", "heard", "answer", "numbers"),
    [
        ({"number": "about 80"}, {}, "same", ["about 80"]),
        ({}, {"number": "about 80"}, "same", ["about 80"]),
        ({"number": "about 80"}, {"number": "80"}, "same", ["80 counted"]),
        ({"number": "80"}, {"number": "about 100"}, "same", ["80 counted"]),
        ({"number": "about 80", "how_much": "all"}, {"how_much": "all"}, "same", ["about 80"]),
        ({"number": "about 80"}, {"number": "80"}, "another", ["about 80", "80 counted"]),
    ],
)
def test_c75_owner_and_helper_both_enter_the_hatch(
    client: FlaskClient, session: Session, gannet_stair: RoomNow,
    helper: dict[str, str], heard: dict[str, str], answer: str, numbers: list[str],
) -> None:  # fmt: skip
    eggs = lay(session, "about 200", days_ago=9)
    part = {"how_much": "a part", "how": "one_by_one"}
    with freeze_time("2026-11-23 22:50:00"):
        first = client.post(
            f"/clutches/{eggs}/hatch", data=part | helper | {"note": "red torch"}
        )
        assert first.status_code == 303
    with freeze_time("2026-11-23 23:30:00"):
        form = part | heard | {"note": "heard of it"}
        asked = client.post(f"/clutches/{eggs}/hatch", data=form)
        assert asked.status_code == 422
        assert "Is this the same one?" in asked.text
        again = client.post(
            f"/clutches/{eggs}/hatch", data=form | {"answer-same_hatch": answer}
        )
        assert again.status_code == 303
    (found,) = clutch_facts.load_clutches(session, gannet_stair, clutch_ids=[eggs])
    assert [one.number.said() for one in found.hatches] == numbers
    if answer == "same":
        assert found.hatches[0].note == "red torch; heard of it"
        assert (found.ending is not None) is (helper.get("how_much") == "all")


# --- C65: water stays with the tank --------------------------------------------------------------


def test_c65_a_batch_that_moves_leaves_its_tanks_readings_behind(
    client: FlaskClient, session: Session
) -> None:
    cool, warm = make_tank(session, "L1"), make_tank(session, "L2")
    batch = make_batch(session, cool, number="80", hatched_at=NOW - timedelta(days=5))
    for tank, reading in ((cool, "24.1"), (warm, "28.3")):
        answer = client.post(f"/tanks/{tank}/temperature", data={"temperature": reading})
        assert answer.status_code == 303
    assert "24.1 °C" in words(client, f"/larval-tanks/{batch}")
    moved = client.post(f"/larval-tanks/{batch}/move", data={"tank_1": str(warm)})
    assert moved.status_code == 303
    page = words(client, f"/larval-tanks/{batch}")
    assert "28.3 °C" in page
    assert "24.1 °C" in words(client, f"/tanks/{cool}")
    assert "24.1 °C" not in words(client, f"/tanks/{warm}")


def test_a_count_whose_range_holds_the_book_asks_for_no_bodies(
    client: FlaskClient, session: Session
) -> None:
    batch = young(session, "about 310")
    answer = client.post(f"/larval-tanks/{batch}/count", data={
        "how": "aliquots", "counts": "4 3 5 4 3", "aliquot_ml": "500", "total_ml": "38 L",
    })  # fmt: skip
    assert answer.status_code == 303
    page = words(client, f"/larval-tanks/{batch}")
    assert "fewer than the book had, within the range of this count" in page
    assert "unexplained since" not in page
