"""Each kind of entry in one line of words, as it reads in the day-book."""

from collections.abc import Callable
from datetime import date
from typing import Any

from hatchery_app.domain.clutch.clutch import CheckKind, EggMove
from hatchery_app.domain.how_many import Basis, HowMany
from hatchery_app.domain.stock_book.worked_count import number_told
from hatchery_app.domain.tank.tank import TankState
from hatchery_app.domain.when import Night, When, say_when
from hatchery_app.models.entry import Entry
from hatchery_app.services.records.record_kinds import kind_named
from hatchery_app.services.records.record_names import Names
from hatchery_app.services.species.library import species_said


def said(row: Entry, names: Names) -> str:
    """An entry in words, without when and by whom. An entry of a new kind says its kind."""
    words = _SAID.get(row.kind)
    if words is None:
        return kind_named(row.kind).word
    line = words(row, names)
    return line[:1].upper() + line[1:]


def _fish(row: Any, names: Names) -> str:
    what = ", ".join(x for x in (row.variety, row.origin_said or str(row.origin)) if x)
    return f"{row.name} came into the records: {what}"


def _sex(row: Any, names: Names) -> str:
    held = {"thought": "thought to be ", "proven": "proven "}.get(str(row.standing), "")
    return f"{names.of(row.fish_id)}: {held}{row.sex}"


def _length(row: Any, names: Names) -> str:
    by_eye = ", by eye" if row.by_eye else ""
    return f"{names.of(row.fish_id)}: {row.length_mm:g} mm ({row.measure}{by_eye})"


def _pair(row: Any, names: Names) -> str:
    verb = "paired" if str(row.link) == "pair" else "kept together"
    named = f", called {row.name}" if row.name else ""
    return f"{names.of(row.female_id)} and {names.of(row.male_id)} {verb}{named}"


def _laying(row: Any, names: Names) -> str:
    who = names.of(row.pair_id) if row.pair_id is not None else "Fish in " + names.of(row.tank_id)
    on = f" on {row.surface}" if row.surface else ""
    return f"{names.of_row(row)}: {who} laid, {_eggs(row.how_many)}{on}"


def _eggs(number: HowMany) -> str:
    return f"{number.said()} eggs" if number.is_known else "eggs not counted"


def _eggs_moved(row: Any, names: Names) -> str:
    name, place = names.of(row.clutch_id), names.of(row.tank_id)
    if row.why is EggMove.LAID:
        return f"{name}: lies in {place}"
    if row.why is EggMove.GIVEN:
        return f"{name}: given to {names.of(row.tended_by_pair_id)} in {place}"
    return f"{name}: {row.why} to {place}"


def _check(row: Any, names: Names) -> str:
    name = names.of(row.clutch_id)
    night = f" ({_night(row.night_on)})" if row.night_on else ""
    if row.check_kind is CheckKind.WATCHED_NONE:
        until = say_when(When.exactly(row.happened_latest), names.room_time)
        return f"{name}: watched, none hatched until {until}{night}"
    if row.check_kind is CheckKind.SIGN:
        return f"{name}: {row.sign} {'seen' if row.seen else 'not seen yet'}"
    if row.how_many.is_known or row.how_many.written:
        return f"{name}: {row.check_kind}, {number_told(row.how_many)}"
    return f"{name}: {row.check_kind}{night}"


def _hatch(row: Any, names: Names) -> str:
    number = _number(row.how_many) if row.how_many.is_known else "not counted"
    share = f" ({row.share})" if row.share else ""
    return f"{names.of(row.clutch_id)}: hatched {row.nights.of_night}, {number}{share}"


def _ended(row: Any, names: Names) -> str:
    return f"{names.of(row.clutch_id)}: over, {row.outcome}{_because(row.reason)}"


def _number(number: HowMany) -> str:
    return str(number.best) if number.basis is Basis.COUNTED else number.said()


def _moved(row: Any, names: Names) -> str:
    number, reason = _number(row.how_many), _because(row.reason)
    if row.out_of_id is None:
        return f"{names.of(row.into_id)}: {number} {row.door}{reason}"
    into = f" to {names.of(row.into_id)}" if row.into_id is not None else ""
    return f"{names.of(row.out_of_id)}: {number} {row.door}{into}{reason}"


def _count(row: Any, names: Names) -> str:
    parts = [f"{n} {word}" for n, word in ((row.settled, "settled"), (row.swimming, "swimming"))
             if n is not None]  # fmt: skip
    split = f" ({', '.join(parts)})" if parts else ""
    counted = row.how_many.basis is Basis.COUNTED and not row.how_many.method
    number = _number(row.how_many) if counted else number_told(row.how_many)
    start = ", the number that was put in" if row.is_start else ""
    return f"{names.of(row.holding_id)}: {number} there{split}{start}"


def _trial(row: Any, names: Names) -> str:
    counted = ", ".join(row.counts.split())
    of = f"{row.aliquot_ml:g} of {row.total_ml:g} mL"
    return f"trial of counting: {row.known_number} {row.sampled} put in, {counted} in {of}"


def _prey(row: Any, names: Names) -> str:
    seen = f"{row.per_ml:g} per mL" if row.per_ml is not None else row.look or "looked"
    topped = row.topped_up_to_per_ml
    up = f", topped up to {topped:g} per mL" if topped is not None else ""
    return f"{names.of(row.tank_id)}: {row.food} {seen}{up}"


def _set_aside(row: Any, names: Names) -> str:
    number = "all" if row.number is None else str(row.number)
    return f"{names.of(row.holding_id)}: {number} set aside, {row.why}{_because(row.reason)}"


def _graded(row: Any, names: Names) -> str:
    number = "not counted" if row.number is None else str(row.number)
    kept_back = "" if row.may_be_sold else ", not for sale"
    return f"{names.of(row.holding_id)}: grade {row.grade}, {number}{kept_back}"


def _held(row: Any, names: Names) -> str:
    whom = f" for {row.for_whom}" if row.for_whom else ""
    until = f" until {Night(row.until_on).label}" if row.until_on else ""
    return f"{names.of(row.holding_id)}: {row.number} held{whom}{until}"


def _culture(row: Any, names: Names) -> str:
    strain = f", {row.strain}" if row.strain else ""
    seed = f" from {names.of(row.from_tank_id)}" if row.from_tank_id is not None else ""
    return f"{names.of(row.tank_id)}: {row.food}{strain} started{seed}{_because(row.seed)}"


def _culture_count(row: Any, names: Names) -> str:
    eggs = f", {row.eggs} eggs" if row.eggs is not None else ""
    seen = f"{row.counts} in {row.sample_ml:g} mL" if row.counts else row.look
    return f"{names.of(row.tank_id)}: culture counted, {seen}{eggs}"


def _harvest(row: Any, names: Names) -> str:
    parts = [f"{row.litres:g} L"] if row.litres is not None else []
    parts += [f"{row.animals:,.0f} animals"] if row.animals is not None else []
    into = f" into {row.into}" if row.into else ""
    return f"{names.of(row.tank_id)}: {', '.join(parts)} sieved{into}"


def _fed(row: Any, names: Names) -> str:
    amount = f"{row.amount:g} {row.unit} " if row.amount is not None else ""
    return f"{names.of(row.tank_id)}: fed {amount}{row.what}"


def _copepods(row: Any, names: Names) -> str:
    return (
        f"{names.of(row.tank_id)}: copepods counted, {row.nauplii} nauplii,"
        f" {row.copepodites} copepodites, {row.adults} adults in {row.sample_ml:g} mL"
    )


def _shelf_change(row: Any, names: Names) -> str:
    amount = "an amount not known" if row.amount is None else f"{row.amount:g}"
    return f"{names.of(row.shelf_id)}: {row.change}, {amount}{_because(row.what_for)}"


def _shrimp_harvest(row: Any, names: Names) -> str:
    many = f"{row.animals:,.0f} shrimp" if row.animals is not None else "not counted"
    return f"{names.of(row.start_id)}: harvested, {many}, {row.ripe}"


def _shrimp_fed(row: Any, names: Names) -> str:
    many = f"{row.animals:,.0f} shrimp" if row.animals is not None else "shrimp"
    into = f" into {row.into}" if row.into else ""
    return f"{names.of(row.start_id)}: {many} fed{into}"


def _tank(row: Any, names: Names) -> str:
    return f"{row.label}: a {row.role} tank of {row.volume_l:.4g} L"


def _state(row: Any, names: Names) -> str:
    barred = _because(row.reason) if row.state is TankState.BARRED or row.reason else ""
    return f"{names.of(row.tank_id)}: {row.state}{barred}"


def _readings(row: Any, names: Names) -> str:
    what = row.quantity.rsplit("_", 1)[0].replace("_", " ")
    many = f"{row.how_many} readings of" if row.how_many > 1 else "one reading of"
    return f"{names.of(row.tank_id)}: {many} {what}"


def _treatment(row: Any, names: Names) -> str:
    where = f"all of {row.system}" if row.system else names.of(row.tank_id)
    amount = f", {row.amount}" if row.amount else ""
    again = f", again every {row.every_days} d, {row.repeats} times" if row.repeats else ""
    return f"{where}: treated with {row.what}{amount}{again}{_because(row.reason)}"


def _lights(row: Any, names: Names) -> str:
    where = names.of(row.tank_id) if row.tank_id else f"rack {row.rack}" if row.rack else "the room"
    return f"lights of {where}: on {row.on_at:%H:%M}, off {row.off_at:%H:%M}"


def _task(row: Any, names: Names) -> str:
    kind = row.task.split(":")[0].replace("_", " ").replace("-", " ")
    what = ", ".join(word for word in (kind, names.of_task(row)) if word)
    return f"{what}: {row.outcome}{_because(row.really_done or row.reason)}"


def _because(reason: str) -> str:
    return f" ({reason})" if reason else ""


def _night(evening: date | None) -> str:
    return f"the night of {Night(evening).label}" if evening is not None else "some night"


_SAID: dict[str, Callable[[Any, Names], str]] = {
    "fish": _fish,
    "brood_group": lambda r, n: f"group {r.name}: {r.number} fish in {n.of(r.tank_id)}",
    "group_left": lambda r, n: f"{n.of(r.group_id)}: {r.number} left, {r.how}",
    "species_seen": lambda r, n: (
        f"{n.of(r.fish_id)}: held to be {species_said(r.species_key)}" + _because(r.evidence)
    ),
    "sex_seen": _sex,
    "length_measured": _length,
    "size_looked": lambda r, n: f"{n.of(r.fish_id)}: {r.beside} beside {n.of(r.other_id)}",
    "fish_placed": lambda r, n: f"{n.of(r.fish_id)}: in {n.of(r.tank_id)}",
    "fish_left": lambda r, n: f"{n.of(r.fish_id)}: {r.door}{_because(r.reason)}",
    "health_barred": lambda r, n: f"{n.of(r.fish_id)}: barred{_because(r.reason)}",
    "health_bar_lifted": lambda r, n: f"{n.of(r.bar_id)}: the bar is lifted",
    "pair": _pair,
    "pair_ended": lambda r, n: f"{n.of(r.pair_id)}: no longer a pair ({r.because})",
    "feeding_rota": lambda r, n: f"feeding rota: {r.dry}" + (f"; {r.frozen}" if r.frozen else ""),
    "laying": _laying,
    "clutch": lambda r, n: f"{n.of_row(r)} begins",
    "eggs_moved": _eggs_moved,
    "clutch_check": _check,
    "hatch": _hatch,
    "clutch_ended": _ended,
    "prey_seen": _prey,
    "concentrate": lambda r, n: f"{r.food} concentrate: {r.per_ml:g} per mL",
    "stage_seen": lambda r, n: f"{n.of(r.holding_id)}: {r.mark}",
    "holding": lambda r, n: f"{n.of_row(r)} begins",
    "holding_placed": lambda r, n: f"{n.of(r.holding_id)}: in {n.of(r.tank_id)}",
    "moved": _moved,
    "stock_count": _count,
    "other_clutch": lambda r, n: f"{n.of(r.holding_id)}: of {n.of(r.clutch_id)} instead",
    "recovery_trial": _trial,
    "photo_marked": lambda r, n: f"{n.of(r.number_id)}: {len(r.marks.split())} marks on a picture",
    "lengths_sampled": lambda r, n: f"{n.of(r.holding_id)}: {len(r.lengths_mm.split())} measured",
    "sale_size": lambda r, n: f"sale size of {species_said(r.species_key)}: {r.length_mm:g} mm",
    "graded": _graded,
    "sale": lambda r, n: f"{n.of(r.holding_id)}: a sale{_because(r.for_whom)}",
    "arrival_report": lambda r, n: f"{n.of(r.sale_id)}: {r.dead} dead on arrival",
    "held": _held,
    "hold_released": lambda r, n: f"{n.of(r.held_id)}: a hold of {r.number} ended",
    "set_aside": _set_aside,
    "set_aside_ended": lambda r, n: f"{n.of(r.set_aside_id)}: no longer set aside",
    "culture_started": _culture,
    "culture_counted": _culture_count,
    "culture_fed": _fed,
    "culture_harvested": _harvest,
    "culture_crashed": lambda r, n: f"{n.of(r.tank_id)}: culture lost{_because(r.reason)}",
    "copepods_counted": _copepods,
    "culture_looked": lambda r, n: f"{n.of(r.tank_id)}: {r.seen}",
    "culture_food_taken": lambda r, n: f"{n.of(r.fed_id)}: from {n.of(r.shelf_id)}",
    "shelf_item": lambda r, n: f"{r.name}, {r.stock_kind}: {r.stock.said(r.unit)} on the shelf",
    "shelf_changed": _shelf_change,
    "cyst_lot": lambda r, n: f"lot of cysts {n.of(r.shelf_id)}{_because(r.grade)}",
    "cysts_started": lambda r, n: f"{r.grams:g} g of {n.of(r.lot_id)} started in {r.litres:g} L",
    "shrimp_harvested": _shrimp_harvest,
    "shrimp_enriched": lambda r, n: (
        f"{n.of(r.start_id)}: enriched for {r.hours:g} h{_because(r.what)}"
    ),
    "shrimp_fed": _shrimp_fed,
    "hatch_over": lambda r, n: f"{n.of(r.start_id)}: {r.ended_as}{_because(r.reason)}",
    "tank": _tank,
    "tank_state": _state,
    "set_point": lambda r, n: f"{n.of(r.tank_id)}: set to {r.temperature_c:.3g} °C",
    "readings": _readings,
    "treatment": _treatment,
    "treatment_ended": lambda r, n: f"{n.of(r.treatment_id)}: over{_because(r.how)}",
    "room_facts": lambda r, n: f"the room: {r.name}, {r.zone_name}",
    "light_hours": _lights,
    "task_answered": _task,
    "chore": lambda r, n: f"chore: {r.what}, {r.every}",
    "withdrawal": lambda r, n: "withdrawn",
}
