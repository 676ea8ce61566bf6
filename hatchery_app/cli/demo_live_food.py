"""The made-up hatchery's live food: its vessels, its shelf, its brine shrimp."""

from datetime import date, timedelta

from hatchery_app.cli.demo_made import Made
from hatchery_app.cli.demo_rows import Row
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.live_food.shelf import Change, HowGot, StockKind, parse_stock
from hatchery_app.domain.live_food.slide_count import Chamber
from hatchery_app.domain.live_food.vessel import Cultured, KeptAs, WaterLook
from hatchery_app.domain.today.schedule import Outcome, Round, TaskName, Turn
from hatchery_app.services.live_food import live_food, live_food_shelf, live_food_shrimp
from hatchery_app.services.stock_book import counts
from hatchery_app.services.today import task_answer


def vessel(made: Made, row: Row) -> None:
    """A line of a culture vessel."""
    posting, tank_id = made.posting(row), made.tanks[row["vessel"]]
    match row["event"]:
        case "start" | "start cool":
            live_food.start_culture(
                made.session, posting=posting, tank_id=tank_id,
                food=Cultured(row["eggs"] or Cultured.ROTIFERS), strain=row["what"],
                salinity_psu=float(row["amount"]), when=row.when,
                from_tank_id=made.tanks.get(row["more"]),
                kept_as=KeptAs.COOL_STOCK if "cool" in row["event"] else KeptAs.PRODUCING,
            )  # fmt: skip
        case "count":
            live_food.record_culture_count(
                made.session, posting=posting, tank_id=tank_id, when=row.when,
                counts=[int(one) for one in row["what"].split()], dilution=float(row["amount"]),
                eggs=int(row["eggs"]) if row["eggs"] else None,
            )  # fmt: skip
        case "squares":
            live_food.record_culture_count(
                made.session, posting=posting, tank_id=tank_id, when=row.when,
                counts=[int(one) for one in row["what"].split()],
                sample_ml=Chamber.SMALL_SQUARE.value,
            )  # fmt: skip
        case "look":
            live_food.record_water_look(
                made.session, posting=posting, tank_id=tank_id, when=row.when,
                seen=[WaterLook(row["what"])],
            )  # fmt: skip
        case "sieve":
            live_food.harvest_culture(
                made.session, posting=posting, tank_id=tank_id, when=row.when,
                litres=float(row["amount"]), into=row["more"],
            )  # fmt: skip
        case "feed":
            live_food.feed_culture(
                made.session, posting=posting, tank_id=tank_id, when=row.when,
                what=row["what"], amount=float(row["amount"]),
                shelf_id=made.shelf.get(row["what"]),
            )  # fmt: skip
        case event:
            raise ValueError(f"{row.file}.csv:{row.line}: no such event: {event}")


def shelf(made: Made, row: Row) -> None:
    """Something came, or was weighed. Cysts come as a lot."""
    posting, stock = made.posting(row), parse_stock(row["amount"], HowGot(row["how"]))
    if row["event"] == "weighed":
        live_food_shelf.change_stock(
            made.session, posting=posting, shelf_id=made.shelf[row["called"]],
            change=Change.COUNTED, stock=stock, when=row.when,
        )  # fmt: skip
    elif row["event"] == StockKind.CYSTS:
        made.lots[row["called"]] = live_food_shrimp.enter_lot(
            made.session, posting=posting, name=row["name"], came=stock, unit=row["unit"],
            grade=row["more"], hatch_percent=float(row["strength"]),
            opened_on=_on(row, row["opened"]), best_before_on=_on(row, row["best_before"]),
            delivery_days=int(row["delivery"]), when=row.when,
        )  # fmt: skip
    else:
        kind = StockKind(row["event"])
        ends = [float(end) for end in row["more"].split("-") if end]
        made.shelf[row["called"]] = live_food_shelf.put_on_shelf(
            made.session, posting=posting, kind=kind, name=row["name"], unit=row["unit"],
            came=stock, opened_on=_on(row, row["opened"]),
            best_before_on=_on(row, row["best_before"]),
            delivery_days=int(row["delivery"]) if row["delivery"] else None,
            dry_fraction=float(row["strength"]) if row["strength"] else None,
            particle_um=(ends[0], ends[-1]) if ends else None, when=row.when,
        )  # fmt: skip


def _on(row: Row, days_later: str) -> date | None:
    """A date so many days from the row's own."""
    return row.when.latest.date() + timedelta(days=int(days_later)) if days_later else None


def brine_shrimp(made: Made, row: Row) -> None:
    """A hatch started, harvested, enriched, fed."""
    session, posting = made.session, made.posting(row)
    if row["event"] == "start":
        made.shrimp[row["hatch"]] = live_food_shrimp.start_cysts(
            session, posting=posting, lot_id=made.lots[row["what"]],
            grams=float(row["amount"]), litres=float(row["litres"]), temperature_c=27.5,
            salinity_psu=28, vessel=row["more"], when=row.when,
        )  # fmt: skip
        return
    start_id, animals = made.shrimp[row["hatch"]], float(row["amount"] or 0) or None
    match row["event"]:
        case "harvest":
            counts = [int(one) for one in row["what"].split()]
            umbrellas, embryos = (int(one) for one in row["more"].split())
            live_food_shrimp.harvest_shrimp(
                session, posting=posting, start_id=start_id, counts=counts, sample_ml=0.25,
                water_l=float(row["litres"]), umbrellas=umbrellas, embryos=embryos,
                when=row.when,
            )  # fmt: skip
        case "enrich":
            live_food_shrimp.enrich_shrimp(
                session, posting=posting, start_id=start_id, hours=24,
                shelf_id=made.shelf[row["what"]], litres=float(row["litres"]), when=row.when,
            )  # fmt: skip
        case "fed":
            live_food_shrimp.feed_shrimp(
                session, posting=posting, start_id=start_id, animals=animals, into=row["what"],
                last_of_it=bool(row["more"]), when=row.when,
            )  # fmt: skip
        case event:
            raise ValueError(f"{row.file}.csv:{row.line}: no such event: {event}")


def food_in_tank(made: Made, row: Row) -> None:
    """A food in a larval tank: counted or looked at and topped up, given, or not fed."""
    session, posting = made.session, made.posting(row)
    holding_id, (food, seen) = made.holdings[row["batch"]], (row["food"], row["seen"])
    if seen in ("given", "not fed"):
        kind, each = ("microdiet", Round.MIDDAY) if food == "microdiet" else (
            f"top_up_{food}", Round.MORNING
        )  # fmt: skip
        turn = Turn(row.when.latest.date(), each)
        task_answer.answer_task(
            session, posting=posting, task=str(TaskName(kind, holding_id, str(turn))),
            outcome=Outcome.DONE if seen == "given" else Outcome.SKIPPED, reason=row["note"],
        )  # fmt: skip
        return
    counted, _, sample_ml = seen.partition(" in ")
    counts.record_prey(
        session, posting=posting, tank_id=made.tank_of(holding_id), food=food, when=row.when,
        look=None if sample_ml else Look(seen),
        counts=[int(one) for one in counted.split()] if sample_ml else (),
        sample_ml=float(sample_ml or 1), note=row["note"],
        topped_up_to_per_ml=float(row["topped_up_to"]) if row["topped_up_to"] else None,
    )  # fmt: skip
