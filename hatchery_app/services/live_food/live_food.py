"""What is done and seen at the culture vessels: started, counted, fed, sieved, lost."""

from collections.abc import Sequence

from sqlalchemy import select

from hatchery_app.domain.errors import Asked, RuleBroken
from hatchery_app.domain.live_food.live_food import Look, density_from_count
from hatchery_app.domain.live_food.vessel import Cultured, Harvest, KeptAs, WaterLook
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.models.entry import known
from hatchery_app.models.live_food import (
    CopepodsCounted,
    CultureCounted,
    CultureCrashed,
    CultureFed,
    CultureHarvested,
    CultureLooked,
    CultureStarted,
)
from hatchery_app.models.shelf import CultureFoodTaken, ShelfItem
from hatchery_app.models.tank import Tank, TankStateSeen
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.tank import tank

UNITS = ("mL", "g")
MANY_EGGS = 3.0  # eggs an animal above which a slip is likelier; growing cultures carry 0.5–1.2


@use_case
def start_culture(
    book: Book,
    *,
    tank_id: int,
    food: Cultured,
    when: When,
    strain: str = "",
    kept_as: KeptAs = KeptAs.PRODUCING,
    salinity_psu: float | None = None,
    from_tank_id: int | None = None,
    seed: str = "",
    note: str = "",
) -> int:
    """What a vessel holds from then on: begun, or restarted clean from another or itself.

    The vessel is in use from then on. Returns the entry.
    """
    vessel = _vessel(book, tank_id)
    if from_tank_id is not None:
        _vessel(book, from_tank_id)
    if salinity_psu is not None and not 0 <= salinity_psu <= 60:
        raise RuleBroken("A culture stands between 0 and 60 psu.", field="salinity")
    row = CultureStarted(
        tank_id=tank_id, food=food, strain=strain.strip()[:40], kept_as=kept_as,
        salinity_psu=salinity_psu, from_tank_id=from_tank_id, seed=seed.strip()[:120],
    )  # fmt: skip
    fact_id = book.enter(row, when=when, note=note).fact
    if _state_said(book, vessel.fact) is not TankState.IN_USE:
        book.enter(TankStateSeen(tank_id=tank_id, state=TankState.IN_USE), when=when)
    return fact_id


@use_case
def seed_culture(
    book: Book, *, tank_id: int, from_tank_id: int, when: When, litres: float | None = None,
    kept_as: KeptAs = KeptAs.PRODUCING, note: str = "",
) -> int:  # fmt: skip
    """Culture poured from one vessel into another, which is begun with it, unsieved.

    What lives there and its salinity are those of where it came from. Litres may be unknown.
    Returns the start.
    """
    vessel, donor = _vessel(book, tank_id), _living(book, from_tank_id)
    if vessel.fact == donor.fact:
        raise RuleBroken("A vessel is seeded from another; restart it instead.", field="from_tank")
    if litres is not None and not 0 < litres <= min(donor.volume_l, vessel.volume_l):
        most = min(donor.volume_l, vessel.volume_l)
        raise RuleBroken(
            f"From {donor.label} into {vessel.label} go {most:g} L at the most.", field="litres"
        )
    begun = book.session.scalars(
        select(CultureStarted)
        .where(known(), CultureStarted.tank_id == from_tank_id)
        .order_by(CultureStarted.happened_latest.desc(), CultureStarted.seq.desc())
        .limit(1)
    ).one()
    row = CultureStarted(
        tank_id=tank_id, food=begun.food, strain=begun.strain, kept_as=kept_as,
        salinity_psu=begun.salinity_psu, from_tank_id=from_tank_id,
        seed=f"{litres:g} L" if litres is not None else "",
    )  # fmt: skip
    fact_id = book.enter(row, when=when, note=note).fact
    if litres is not None:
        taken = CultureHarvested(tank_id=from_tank_id, litres=litres, into=vessel.label)
        book.enter(taken, when=when)
    if _state_said(book, vessel.fact) is not TankState.IN_USE:
        book.enter(TankStateSeen(tank_id=tank_id, state=TankState.IN_USE), when=when)
    return fact_id


@use_case
def record_culture_count(
    book: Book,
    *,
    tank_id: int,
    when: When,
    counts: Sequence[int] = (),
    sample_ml: float = 1.0,
    dilution: float = 1.0,
    eggs: int | None = None,
    look: Look | None = None,
    note: str = "",
) -> int:
    """A count with its replicates, and the eggs on the same animals; or a look. Returns it.

    Far more eggs than animals are asked about.
    """
    _living(book, tank_id)
    if not counts and look is None:
        raise RuleBroken("Write what was counted, or say how it looks.", field="counts")
    if counts:
        density_from_count(counts, sample_ml, dilution)  # refuses what cannot be
    if eggs is not None and not counts:
        raise RuleBroken("Count the animals that carry the eggs too.", field="counts")
    if eggs is not None and eggs > MANY_EGGS * sum(counts) and "many_eggs" not in book.answers:
        raise Asked(
            f"{eggs} eggs on {sum(counts)} animals are very many. Is that so?",
            question="many_eggs", answers=(("so", "It is so"),), field="eggs",
        )  # fmt: skip
    row = CultureCounted(
        tank_id=tank_id, counts=" ".join(str(one) for one in counts), sample_ml=sample_ml,
        dilution=dilution, eggs=eggs, look="" if look is None or counts else look.value,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


@use_case
def feed_culture(
    book: Book, *, tank_id: int, what: str, when: When, amount: float | None = None,
    unit: str = "mL", shelf_id: int | None = None, note: str = "",
) -> int:  # fmt: skip
    """A vessel was fed so many mL or g of something; an amount may be left out.

    `shelf_id` is what it was taken from, so that the shelf knows.
    """
    _living(book, tank_id)
    if unit not in UNITS:
        raise RuleBroken("Food is given in mL or g.", field="unit")
    if amount is not None and amount <= 0:
        raise RuleBroken("That must be above 0.", field="amount")
    if shelf_id is not None:
        what = book.find(ShelfItem, shelf_id, "That does not stand on this room's shelf.").name
    row = CultureFed(
        tank_id=tank_id, what=what.strip()[:80] or "paste", amount=amount, unit=unit
    )
    fact_id = book.enter(row, when=when, note=note).fact
    if shelf_id is not None:
        book.enter(CultureFoodTaken(fed_id=fact_id, shelf_id=shelf_id), when=when)
    return fact_id


@use_case
def harvest_culture(
    book: Book, *, tank_id: int, when: When, litres: float | None = None,
    animals: float | None = None, into: str = "", note: str = "",
) -> int:  # fmt: skip
    """Culture sieved, and the vessel made up again: its litres, the animals got, or both."""
    vessel = _living(book, tank_id)
    Harvest(book.now, litres, animals)  # refuses one that says nothing
    if litres is not None and litres > vessel.volume_l:
        raise RuleBroken(
            f"{vessel.label} holds {vessel.volume_l:g} L; no more can be taken.", field="litres"
        )
    row = CultureHarvested(
        tank_id=tank_id, litres=litres, animals=animals, into=into.strip()[:120]
    )
    return book.enter(row, when=when, note=note).fact


@use_case
def record_crash(
    book: Book, *, tank_id: int, when: When, reason: str = "", note: str = ""
) -> int:
    """The culture of a vessel is lost. It gives nothing until it is started again."""
    _living(book, tank_id)
    row = CultureCrashed(tank_id=tank_id, reason=reason.strip()[:200])
    return book.enter(row, when=when, note=note).fact


@use_case
def count_copepods(
    book: Book,
    *,
    tank_id: int,
    when: When,
    nauplii: int,
    copepodites: int,
    adults: int,
    sample_ml: float = 1.0,
    dilution: float = 1.0,
    note: str = "",
) -> int:
    """Copepods counted by stage in one sample. Returns the entry."""
    _living(book, tank_id)
    density_from_count((nauplii + copepodites + adults,), sample_ml, dilution)
    row = CopepodsCounted(
        tank_id=tank_id, nauplii=nauplii, copepodites=copepodites, adults=adults,
        sample_ml=sample_ml, dilution=dilution,
    )  # fmt: skip
    return book.enter(row, when=when, note=note).fact


@use_case
def record_water_look(
    book: Book, *, tank_id: int, seen: Sequence[WaterLook], when: When, note: str = ""
) -> int:
    """What a vessel's water and animals showed, several things at once. Returns the last entry."""
    _living(book, tank_id)
    if not seen:
        raise RuleBroken("Say what was seen.", field="seen")
    if WaterLook.WELL in seen and len(seen) > 1:
        raise RuleBroken("All well, or what is not: not both.", field="seen")
    fact_id = 0
    for one in seen:
        fact_id = book.enter(CultureLooked(tank_id=tank_id, seen=one), when=when, note=note).fact
    return fact_id


def settle_count(row: CultureCounted) -> None:
    """Refuse a corrected count that cannot be, and write its samples as counts are kept."""
    written = row.counts.replace(";", " ").replace(",", " ").split()
    if not all(one.isascii() and one.isdigit() and len(one) < 7 for one in written):
        raise RuleBroken("Write each sample's number: 28, 31, 34.", field="counts")
    if not written and not row.look:
        raise RuleBroken("Write what was counted, or say how it looks.", field="counts")
    row.counts = " ".join(written)
    if written:
        row.look = ""
        density_from_count([int(one) for one in written], row.sample_ml, row.dilution)
    elif row.eggs is not None:
        raise RuleBroken("Count the animals that carry the eggs too.", field="counts")


def _vessel(book: Book, tank_id: int) -> Tank:
    found = book.find(Tank, tank_id, tank.NOT_HERE)
    if found.role is not TankRole.CULTURE:
        raise RuleBroken(f"{found.label} is kept for {found.role}, not for live food.")
    return found


def _living(book: Book, tank_id: int) -> Tank:
    vessel = _vessel(book, tank_id)
    started = book.session.scalars(
        select(CultureStarted.seq).where(known(), CultureStarted.tank_id == tank_id).limit(1)
    ).first()
    if started is None:
        raise RuleBroken(f"Say first what {vessel.label} holds: start it.")
    return vessel


def _state_said(book: Book, tank_id: int) -> TankState | None:
    return book.session.scalars(
        select(TankStateSeen.state)
        .where(known(), TankStateSeen.tank_id == tank_id)
        .order_by(TankStateSeen.happened_latest.desc(), TankStateSeen.seq.desc())
        .limit(1)
    ).first()
