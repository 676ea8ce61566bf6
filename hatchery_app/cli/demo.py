"""Loading the made-up hatchery through the services, each fact at the moment it was written down.

Nothing here writes a table by itself: what a keeper could not enter, the demo does not have.
"""

import csv
import gc
import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import event
from sqlalchemy.orm import Session
from sqlalchemy.schema import CreateTable

from hatchery_app import __version__, clock, locations
from hatchery_app.app import create_app
from hatchery_app.cli import demo_counts, demo_live_food
from hatchery_app.cli.demo_made import Made
from hatchery_app.cli.demo_rows import Row, read_rows
from hatchery_app.database import Base, db
from hatchery_app.domain.broodstock.body_length import LengthKind
from hatchery_app.domain.broodstock.broodstock import Origin
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import LinkKind
from hatchery_app.domain.broodstock.sex_state import Sex, SexEvidence, Standing
from hatchery_app.domain.clutch.clutch import CheckKind, ClutchOutcome, EggMove, Sign
from hatchery_app.domain.how_many import parse
from hatchery_app.domain.stock_book.stock_book import Door
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.today.chores import Rhythm
from hatchery_app.domain.today.schedule import Outcome, Round
from hatchery_app.domain.when import RoomTime
from hatchery_app.services.broodstock import feeding_rota, fish, fish_left, group, pair
from hatchery_app.services.clutch import clutch
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.recording import Posting
from hatchery_app.services.records import account, room
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species.library import library
from hatchery_app.services.stock_book import counts, stock_book
from hatchery_app.services.tank import readings, tank, treatment
from hatchery_app.services.today import chore, task_answer
from hatchery_app.settings import Settings

ROOM_NAME, ZONE = "Gannet Stair", "Europe/Lisbon"
OWNER = "Ines"
BEGAN_DAYS_AGO = 95
MARKER = "loaded"
NO_PASSWORD = "!"  # no hash is like it: the demo is opened on this machine, without signing in

LOOKS = {
    "well": (CheckKind.LOOKS_WELL, None, True),
    "dark": (CheckKind.SIGN, Sign.DARK, True),
    "eyes": (CheckKind.SIGN, Sign.EYES, True),
    "silver": (CheckKind.SIGN, Sign.SILVER, True),
    "watched": (CheckKind.WATCHED_NONE, None, True),
    "fungus": (CheckKind.FUNGUS, None, True),
    "eggs": (CheckKind.EGGS, None, True),
    "losses": (CheckKind.LOSSES, None, True),
}


def is_loaded(folder: Path, today: date) -> bool:
    """Whether the folder holds the demo of this day, this program, these rows and tables."""
    marker = folder / MARKER
    return marker.exists() and marker.read_text() == stamp(today)


def demo_day(settings: Settings) -> date:
    """The room's day at which the demo is to stand: today's, or the one it pretends."""
    return RoomTime(ZONE).local(settings.pretend_now or clock.now()).date()


def clear_demo(folder: Path) -> None:
    """Remove an older demo's records. Nothing but what a demo made is touched."""
    for name in ("hatchery.db", "hatchery.db-wal", "hatchery.db-shm", MARKER):
        (folder / name).unlink(missing_ok=True)
    for picture in (folder / "photos").glob("*"):
        picture.unlink()


def load_into(settings: Settings) -> None:
    """Load the demo into the settings' empty tables, as of the clock.

    A load that is cut off is begun anew, so nothing waits for the disk until it is done; and
    the thousands of rows are all kept, so that collecting them meanwhile finds nothing.
    """
    app = create_app(settings)
    with app.app_context(), _nothing_collected():
        event.listen(db.engine, "connect", _without_waiting)
        load_demo(db.session(), folder=settings.folder, now=clock.now())
        db.session.remove()
        db.engine.dispose()


def _without_waiting(connection: Any, _record: Any) -> None:
    connection.execute("PRAGMA synchronous=OFF")


@contextmanager
def _nothing_collected() -> Iterator[None]:
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def load_demo(session: Session, *, folder: Path, now: datetime) -> None:
    """Load the made-up hatchery into empty tables, dated back from `now`."""
    began = now - timedelta(days=BEGAN_DAYS_AGO)
    owner = account.make_owner(session, name=OWNER, password_hash=NO_PASSWORD, now=began)
    room.set_up_room(
        session, posting=Posting(now=began, by_id=owner.id), name=ROOM_NAME, zone_name=ZONE,
        lights_on=time(8), lights_off=time(20),
    )  # fmt: skip
    room_time = RoomTime(ZONE)
    today = room_time.local(now).date()
    made = Made(session, owner.id, locations.SEED_DEMO, folder)
    for row in read_rows(locations.SEED_DEMO, today=today, room_time=room_time, now=now):
        if row.file != "11_readings":
            HANDLERS[row.file](made, row)
    _paste_readings(made, today, room_time, now)
    (folder / MARKER).write_text(stamp(today))


def stamp(today: date) -> str:
    """What the demo was made of: its day, the program, the rows it tells and the tables."""
    made_of = hashlib.sha256()
    for file in sorted(locations.SEED_DEMO.glob("*.csv")):
        made_of.update(f"{file.name}\n".encode() + file.read_bytes())
    for table in Base.metadata.sorted_tables:
        made_of.update(str(CreateTable(table)).encode())
    return f"{today.isoformat()} {__version__} {made_of.hexdigest()}"


def _paste_readings(made: Made, today: date, room_time: RoomTime, now: datetime) -> None:
    """One paste a tank, as a logger gives it: time and temperature."""
    with (made.seed / "11_readings.csv").open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    labels = [column for column in rows[0] if column not in ("day", "time")]
    for label in labels:
        lines = ["time;temperature"]
        for row in rows:
            on = today + timedelta(days=int(row["day"]))
            at = room_time.planned(on, time.fromisoformat(row["time"]))
            if at <= now:
                lines.append(f"{at.strftime('%Y-%m-%dT%H:%M:%SZ')};{row[label]}")
        readings.paste_temperatures(
            made.session, posting=Posting(now=now, by_id=made.owner_id),
            tank_id=made.tanks[label], text="\n".join(lines),
        )  # fmt: skip


def _tanks(made: Made, row: Row) -> None:
    tank.add_tanks(
        made.session, posting=made.posting(row), labels=row["labels"], volume=row["volume"],
        role=TankRole(row["role"]), rack=row["rack"], system=row["system"],
        state=TankState(row["state"]), set_point=row["set_point"], when=row.when,
    )  # fmt: skip
    made.tanks = {each.label: each.tank_id for each in tank.tank_choices(made.session)}


def _tank_state(made: Made, row: Row) -> None:
    tank.set_state(
        made.session, posting=made.posting(row), tank_id=made.tanks[row["tank"]],
        state=TankState(row["state"]), reason=row["reason"], when=row.when,
    )  # fmt: skip


def _treatment(made: Made, row: Row) -> None:
    posting, called = made.posting(row), row["called"]
    if row["event"].startswith("dose "):
        task = f"treat:{made.treatments[called]}:{row['event'].replace(' ', '-')}"
        task_answer.answer_task(made.session, posting=posting, task=task, outcome=Outcome.DONE)
        return
    repeats = (int(row["every_days"]), int(row["repeats"])) if row["repeats"] else (None, None)
    made.treatments[called] = treatment.record_treatment(
        made.session, posting=posting, tank_id=made.tanks[row["tank"]], what=row["what"],
        amount=row["amount"], reason=row["reason"], barred=row["barred"], when=row.when,
        every_days=repeats[0], repeats=repeats[1],
        over=row.when if row["event"] == "once" else None,
    )  # fmt: skip


def _fish(made: Made, row: Row) -> None:
    fish_id = fish.enter_fish(
        made.session, posting=made.posting(row), name=row["name"], when=row.when,
        species_key=row["species"], origin=Origin(row["origin"]), origin_said=row["origin_said"],
        variety=row["variety"], tank_id=made.tanks[row["tank"]],
    )  # fmt: skip
    made.fish[row["name"]] = fish_id
    fish.record_length(
        made.session, posting=made.posting(row), fish_id=fish_id,
        length_mm=float(row["length_mm"]), when=row.when, measure=LengthKind.TOTAL,
        by_eye=row["by_eye"] == "y", typed=f"{row['length_mm']} mm",
    )  # fmt: skip
    fish.record_sex(
        made.session, posting=made.posting(row), fish_id=fish_id, sex=Sex(row["sex"]),
        standing=Standing(row["standing"]), when=row.when,
        evidence=[SexEvidence(row["evidence"])],
    )  # fmt: skip


def _group(made: Made, row: Row) -> None:
    group.enter_group(
        made.session, posting=made.posting(row), name=row["name"],
        number=int(row["number"]), tank_id=made.tanks[row["tank"]], when=row.when,
        species_key=row["species"],
    )  # fmt: skip


def _pair(made: Made, row: Row) -> None:
    made.pairs[f"{row['female']} and {row['male']}"] = pair.enter_pair(
        made.session, posting=made.posting(row), female_id=made.fish[row["female"]],
        male_id=made.fish[row["male"]], when=row.when, link=LinkKind(row["link"]),
        earlier_clutches=int(row["earlier_clutches"]),
    )  # fmt: skip


def _fish_left(made: Made, row: Row) -> None:
    fish_left.record_leaving(
        made.session, posting=made.posting(row), fish_id=made.fish[row["fish"]],
        door=WayOut(row["door"]), when=row.when, reason=row["reason"],
    )  # fmt: skip


def _spawn(made: Made, row: Row) -> None:
    made.clutches[row["clutch"]] = spawn.record_laying(
        made.session, posting=made.posting(row), pair_id=made.pairs[row["pair"]],
        when=row.when, eggs=parse(row["eggs"]), surface=row["surface"], note=row["note"],
    )  # fmt: skip


def _check(made: Made, row: Row) -> None:
    kind, sign, seen = LOOKS[row["what"]]
    clutch.record_check(
        made.session, posting=made.posting(row), clutch_id=made.clutches[row["clutch"]],
        kind=kind, sign=sign, seen=seen, when=row.when, number=demo_counts.number(row["number"]),
        note=row["note"],
    )  # fmt: skip


def _eggs_moved(made: Made, row: Row) -> None:
    clutch.move_eggs(
        made.session, posting=made.posting(row), clutch_id=made.clutches[row["clutch"]],
        why=EggMove(row["why"]), when=row.when, tank_id=made.tanks[row["tank"]],
        tended_by_pair_id=made.pairs.get(row["tended_by"]),
    )  # fmt: skip


def _hatch(made: Made, row: Row) -> None:
    whole = row["how_much"] == "all"
    made.hatches[row["hatch"]] = clutch.record_hatch(
        made.session, posting=made.posting(row), clutch_id=made.clutches[row["clutch"]],
        when=row.when, library=library(), number=parse(row["number"]), all_hatched=whole,
        share="" if whole else row["how_much"],
    )  # fmt: skip


def _clutch_ended(made: Made, row: Row) -> None:
    clutch.end_clutch(
        made.session, posting=made.posting(row), clutch_id=made.clutches[row["clutch"]],
        outcome=ClutchOutcome(row["outcome"]), when=row.when, reason=row["reason"],
    )  # fmt: skip


def _larvae(made: Made, row: Row) -> None:
    part = larval_tank.Part(made.tanks[row["tank"]], parse(row["number"]), row["note"])
    made.holdings[row["batch"]] = larval_tank.put_larvae_in_tank(
        made.session, posting=made.posting(row), hatch_id=made.hatches[row["hatch"]],
        parts=[part], when=row.when,
    )  # fmt: skip
    made.placed[made.holdings[row["batch"]]] = part.tank_id


def _batch(made: Made, row: Row) -> None:
    holding_id = made.holdings[row.said.get("batch") or row["cohort"]]
    posting = made.posting(row)
    match row["event"]:
        case "died" | "put down" | "given away":
            stock_book.record_leaving(
                made.session, posting=posting, holding_id=holding_id,
                number=parse(row["what"]), door=Door(row["event"]), reason=row["more"],
                when=row.when,
            )  # fmt: skip
        case "count":
            counts.record_count(
                made.session, posting=posting, holding_id=holding_id, when=row.when,
                number=demo_counts.number(row["what"]),
            )  # fmt: skip
        case "settled":
            counts.record_settlement(
                made.session, posting=posting, holding_id=holding_id, when=row.when,
                settled=int(row["what"]), swimming=int(row["more"]), counted=False,
            )  # fmt: skip
        case "mark":
            counts.record_mark(
                made.session, posting=posting, holding_id=holding_id, when=row.when,
                mark=row["what"],
            )  # fmt: skip
        case "to cohort":
            made.holdings[row["more"]] = larval_tank.move_settled(
                made.session, posting=posting, holding_id=holding_id, when=row.when,
                tank_id=made.tanks[row["what"]], number=None,
            )  # fmt: skip
        case event:
            raise ValueError(f"{row.file}.csv:{row.line}: no such event: {event}")


def _cohort(made: Made, row: Row) -> None:
    if row["event"] != "lengths":
        _batch(made, row)


def _rota(made: Made, row: Row) -> None:
    feeding_rota.set_rota(
        made.session, posting=made.posting(row), dry=row["dry"], frozen=row["frozen"],
        fresh=row["fresh"], when=row.when,
    )  # fmt: skip


def _chore(made: Made, row: Row) -> None:
    chore.add_chore(
        made.session, posting=made.posting(row), what=row["what"],
        rhythm=Rhythm(
            every_days=int(row["every_days"]) if row["every_days"] else None,
            weekdays=tuple(int(day) for day in row["weekdays"].split()),
            day_of_month=int(row["day_of_month"]) if row["day_of_month"] else None,
        ),
        in_round=Round(row["round"]), tank_id=made.tanks.get(row["tank"]),
    )  # fmt: skip


HANDLERS: dict[str, Callable[[Made, Row], None]] = {
    "10_tanks": _tanks,
    "12_tank_states": _tank_state,
    "13_treatments": _treatment,
    "20_fish": _fish,
    "21_groups": _group,
    "22_pairs": _pair,
    "23_fish_left": _fish_left,
    "24_rota": _rota,
    "30_spawns": _spawn,
    "31_checks": _check,
    "32_eggs_moved": _eggs_moved,
    "33_hatches": _hatch,
    "34_clutches_ended": _clutch_ended,
    "40_larvae": _larvae,
    "41_batches": _batch,
    "42_trials": lambda made, row: demo_counts.trial(made.session, made.posting(row), row),
    "43_pictures": lambda made, row: demo_counts.picture(
        made.session, lambda: made.posting(row), made.folder,
        made.clutches[row["clutch"]], row,
    ),
    "50_cohorts": _cohort,
    "60_chores": _chore,
    "70_vessels": demo_live_food.vessel,
    "71_shelf": demo_live_food.shelf,
    "72_brine_shrimp": demo_live_food.brine_shrimp,
    "73_food_in_tanks": demo_live_food.food_in_tank,
}

