"""Field cases of survival and of what was different: through the services and the pages."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from flask.testing import FlaskClient
from freezegun import freeze_time
from sqlalchemy.orm import Session

from hatchery_app.domain.how_many import HowMany
from hatchery_app.domain.stock_book.what_differed import Matter
from hatchery_app.domain.when import When
from hatchery_app.services.larval_tank import larval_tank_page
from hatchery_app.services.recording import Posting
from hatchery_app.services.records.room import RoomNow
from hatchery_app.services.stock_book import counts, species_survival
from hatchery_app.services.stock_book.rearing_groups import By
from hatchery_app.services.stock_book.species_survival import Asking
from tests.builders import make_batch, make_tank
from tests.unit.services.test_species_survival import counted, lost

OCELLARIS = "amphiprion_ocellaris"
PAGE = f"/stock-book/survival/{OCELLARIS}"
NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
Posted = Callable[..., Posting]


def opened(client: FlaskClient, address: str) -> str:
    with freeze_time(NOW):
        return client.get(address).get_data(as_text=True)


def test_c32_a_batch_of_which_none_lived_stays_in_the_list_and_divides_nothing(
    session: Session, client: FlaskClient, gannet_stair: RoomNow
) -> None:
    june = datetime(2009, 6, 12, 21, 30, tzinfo=UTC)
    none = make_batch(session, make_tank(session, "L1"), number="?", hatched_at=june)
    band = When.between(june + timedelta(days=2), june + timedelta(days=5))
    with freeze_time(june + timedelta(days=6)):
        counts.record_count(
            session, posting=Posting(now=june + timedelta(days=6)), holding_id=none,
            number=HowMany.counted(0), when=band,
        )  # fmt: skip
    second = june + timedelta(days=8)
    five = make_batch(session, make_tank(session, "L2"), number="about 300", hatched_at=second)
    counted(session, five, "5", second + timedelta(days=9))
    make_batch(session, make_tank(session, "L3"), number="?", hatched_at=second)
    rows = species_survival.species_survival(
        session, species_key=OCELLARIS, asking=Asking()
    ).rows
    assert [row.balance.best for row in rows] == [None, 5, 0]
    page = opened(client, PAGE)
    assert page.count("Not computable: how many there were at the start is not known.") >= 2
    assert "none left by" in page
    assert "about 2 % alive (5 counted of about 300)" in page


def test_c40_deaths_discovered_late_are_a_band_on_the_drawing_and_in_its_table(
    session: Session, client: FlaskClient, gannet_stair: RoomNow, posted: Posted
) -> None:
    hatched = datetime(2026, 4, 20, 20, 30, tzinfo=UTC)
    second, twentieth = (datetime(2026, 5, day, 12, tzinfo=UTC) for day in (2, 20))
    batches = [
        make_batch(session, make_tank(session, f"L{n}"), number="61", hatched_at=hatched)
        for n in range(5)
    ]
    for batch in batches:
        counted(session, batch, "61", second)
        counts.record_count(
            session, posting=posted(twentieth), holding_id=batch, number=HowMany.counted(48),
            bodies=5, when=When.exactly(twentieth),
        )  # fmt: skip
    page = opened(client, PAGE)
    losses = page.split("Losses by age, batch by batch</caption>")[1].split("</table>")[0]
    assert losses.count("13–30") == 10  # bodies and missing of each, between the two counts
    assert not re.search(r"<td>30</td>", losses)  # nothing on the day of the count
    assert 'class="d-loss"' not in page  # no day has a bar of its own
    assert 'class="d-loss-gap"' in page
    assert "No age stands out" in page


def test_c36_a_food_gap_is_named_when_deaths_come_days_later(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    hatched = datetime(2026, 9, 4, 20, 30, tzinfo=UTC)
    fed, starved = (
        make_batch(session, make_tank(session, label), number="100", hatched_at=hatched)
        for label in ("L1", "L2")
    )
    third = hatched + timedelta(days=3)
    counts.record_mark(
        session, posting=posted(third), holding_id=fed, mark="first brine shrimp",
        when=When.exactly(third),
    )  # fmt: skip
    counts.record_food_gap(
        session, posting=posted(third), holding_ids=(starved,), food="rotifers",
        when=When.exactly(third),
    )  # fmt: skip
    for dph in (4, 5, 6):
        lost(session, starved, 12, hatched + timedelta(days=dph))
    page = larval_tank_page.larval_tank_page(session, holding_id=starved, now=NOW)
    (loss,) = page.losses
    assert (loss.beside.episode.from_dph, loss.beside.episode.until_dph) == (4, 6)
    assert [one.matter for one in loss.beside.different] == [Matter.FOOD_GAP]


def test_c37_batches_begun_on_brine_shrimp_are_held_against_the_others(
    session: Session, gannet_stair: RoomNow, posted: Posted
) -> None:
    for place in range(10):
        hatched = datetime(2026, 3, 1, 20, 30, tzinfo=UTC) + timedelta(days=7 * place)
        batch = make_batch(
            session, make_tank(session, f"L{place}"), number="100", hatched_at=hatched
        )
        shrimp_first = place % 2 == 0
        first, later = hatched + timedelta(hours=12), hatched + timedelta(days=4)
        marks = (("first food", first), ("first brine shrimp", first if shrimp_first else later))
        for mark, at in marks:
            counts.record_mark(
                session, posting=posted(at), holding_id=batch, mark=mark, when=When.exactly(at)
            )
        lost(session, batch, 76 if shrimp_first else 32, hatched + timedelta(days=8))
        counted(session, batch, "24" if shrimp_first else "68", hatched + timedelta(days=35))
    found = species_survival.species_survival(
        session, species_key=OCELLARIS, asking=Asking(By.FIRST_FOOD, dph=35, percent=50)
    ).groups
    assert found is not None
    assert found.compared is not None
    assert {group.group: (group.well, group.of) for group in found.groups} == {
        "smaller food first": (5, 5), "brine shrimp first": (0, 5),
    }  # fmt: skip
    assert "not yet the cause" in found.compared.verdict
