"""Small builders of a room for tests, sorted by room: each records through the services.

They take the records' session first and give back the name (fact id) of what they made.
"""

import struct
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from hatchery_app.domain import how_many
from hatchery_app.domain.clutch.thermal_time import constants_of_two
from hatchery_app.domain.live_food.shelf import parse_stock
from hatchery_app.domain.live_food.shrimp_hatch import Ripe
from hatchery_app.domain.live_food.vessel import Cultured
from hatchery_app.domain.spawn.parents import Parent, Parents
from hatchery_app.domain.species.species import Species
from hatchery_app.domain.species.species_file import load_species
from hatchery_app.domain.stock_book.picture import read_marks
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.when import When
from hatchery_app.services.broodstock import fish, pair
from hatchery_app.services.clutch import clutch
from hatchery_app.services.larval_tank import larval_tank
from hatchery_app.services.live_food import live_food, live_food_shrimp
from hatchery_app.services.recording import Posting
from hatchery_app.services.spawn import spawn
from hatchery_app.services.species import library
from hatchery_app.services.stock_book import photo_count
from hatchery_app.services.tank import readings, tank, treatment

LONG_AGO = datetime(2026, 1, 2, 9, 0, tzinfo=UTC)

# --- broodstock -----------------------------------------------------------------------------


def make_fish(
    session: Session,
    name: str,
    *,
    species_key: str = "amphiprion_ocellaris",
    tank_id: int | None = None,
    at: datetime = LONG_AGO,
    **facts: Any,
) -> int:
    """One breeding fish that came into the room at `at`; more of what `enter_fish` takes."""
    return fish.enter_fish(
        session, posting=Posting(now=at), name=name, species_key=species_key, tank_id=tank_id,
        when=When.exactly(at), **facts,
    )  # fmt: skip


def make_pair(
    session: Session,
    female_name: str,
    male_name: str,
    *,
    tank_id: int | None = None,
    at: datetime = LONG_AGO,
    species_key: str = "amphiprion_ocellaris",
) -> int:
    """Two new fish, together in a tank from `at` on."""
    female_id, male_id = (
        make_fish(session, name, tank_id=tank_id, at=at, species_key=species_key)
        for name in (female_name, male_name)
    )
    return pair.enter_pair(
        session, posting=Posting(now=at), female_id=female_id, male_id=male_id,
        when=When.exactly(at),
    )  # fmt: skip


# --- larval tank ----------------------------------------------------------------------------


def make_hatch(
    session: Session,
    *,
    hatched_at: datetime,
    clutch_id: int | None = None,
    pair_id: int | None = None,
    number: str = "?",
    species_key: str = "amphiprion_ocellaris",
) -> int:
    """A hatch seen at that moment: of a clutch, of a new clutch of a pair, or of nobody known.

    A new clutch was laid eight days before, in a tank of its own where there is no pair.
    """
    laid = hatched_at - timedelta(days=8)
    if clutch_id is None and pair_id is not None:
        clutch_id = spawn.record_laying(
            session, posting=Posting(now=laid), pair_id=pair_id, when=When.exactly(laid)
        )
    if clutch_id is None:
        label = f"nest {spawn.next_number(session)}"
        nest = make_tank(session, label, role=TankRole.BROODSTOCK, at=laid)
        clutch_id = spawn.record_laying_without_pair(
            session, posting=Posting(now=laid), tank_id=nest, species_key=species_key,
            parents=Parents(Parent.unknown(), Parent.unknown()), when=When.exactly(laid),
        )  # fmt: skip
    answers = {"early_hatch": "so", "same_hatch": "another"}
    return clutch.record_hatch(
        session, posting=Posting(now=hatched_at, answers=answers), clutch_id=clutch_id,
        when=When.exactly(hatched_at), library=library.library(), number=how_many.parse(number),
    )  # fmt: skip


def make_batch(
    session: Session,
    tank_id: int,
    *,
    number: str = "143",
    hatched_at: datetime,
    hatch_id: int | None = None,
    clutch_id: int | None = None,
    pair_id: int | None = None,
    put_at: datetime | None = None,
    **answers: str,
) -> int:
    """A batch of larvae in a tank, put there at `put_at` or as they hatched ("about 80", "?").

    Of a hatch, of a clutch, of a new clutch of a pair, or (none given) of parents unknown.
    """
    hatch_id = hatch_id or make_hatch(
        session, hatched_at=hatched_at, clutch_id=clutch_id, pair_id=pair_id
    )
    at = put_at or hatched_at
    part = larval_tank.Part(tank_id, how_many.parse(number))
    return larval_tank.put_larvae_in_tank(
        session, posting=Posting(now=at, answers=answers), hatch_id=hatch_id, parts=(part,),
        when=When.exactly(at),
    )  # fmt: skip


def make_cohort(
    session: Session,
    tank_id: int,
    *,
    number: str = "40",
    hatched_at: datetime,
    settled_at: datetime,
    larval_tank_id: int,
    pair_id: int | None = None,
    name: str = "",
) -> int:
    """A cohort in a tank: a batch of that number hatched, all of it settled and moved on."""
    batch_id = make_batch(
        session, larval_tank_id, number=number, hatched_at=hatched_at, pair_id=pair_id
    )
    return larval_tank.move_settled(
        session, posting=Posting(now=settled_at), holding_id=batch_id, tank_id=tank_id,
        number=None, when=When.exactly(settled_at), name=name,
    )  # fmt: skip


# --- live food ------------------------------------------------------------------------------


def make_culture(
    session: Session, label: str, *, at: datetime, litres: float = 20, salinity: float | None = 20
) -> int:
    """A vessel with a culture of L rotifers that was started at `at`."""
    tank_id = make_tank(session, label, litres=litres, role=TankRole.CULTURE)
    live_food.start_culture(
        session, posting=Posting(now=at), tank_id=tank_id, food=Cultured.ROTIFERS, strain="L",
        salinity_psu=salinity, when=When.exactly(at),
    )  # fmt: skip
    return tank_id


def count_culture(
    session: Session, tank_id: int, *numbers: int, at: datetime, **more: Any
) -> int:
    """Samples of 1 mL counted, undiluted; more of what `record_culture_count` takes."""
    return live_food.record_culture_count(
        session, posting=Posting(now=at), tank_id=tank_id, counts=numbers, when=When.exactly(at),
        **more,
    )  # fmt: skip


def make_lot(
    session: Session, *, at: datetime, name: str = "tin of May", came: str = "400", **more: Any
) -> int:
    """A lot of cysts of 90 % with its tin, so many grams; more of what `enter_lot` takes."""
    facts = {"grade": "first", "hatch_percent": 90.0, "delivery_days": 7} | more
    return live_food_shrimp.enter_lot(
        session, posting=Posting(now=at), name=name, came=parse_stock(came),
        when=When.exactly(at), **facts,
    )  # fmt: skip


def start_shrimp(session: Session, lot_id: int, *, at: datetime, grams: float = 1.0) -> int:
    """Cysts started in a litre of 28 °C and 28 psu."""
    return live_food_shrimp.start_cysts(
        session, posting=Posting(now=at), lot_id=lot_id, grams=grams, litres=1.0,
        temperature_c=28.0, salinity_psu=28.0, vessel="cone 1", when=When.exactly(at),
    )  # fmt: skip


def make_hatched(
    session: Session, lot_id: int, *, at: datetime, hours: float, animals: float | None,
    ripe: Ripe = Ripe.IN_TIME,
) -> int:  # fmt: skip
    """A hatch harvested at `at`, so many hours after its cysts were started."""
    start_id = start_shrimp(session, lot_id, at=at - timedelta(hours=hours))
    live_food_shrimp.harvest_shrimp(
        session, posting=Posting(now=at), start_id=start_id, animals=animals, ripe=ripe,
        when=When.exactly(at),
    )  # fmt: skip
    return start_id


# --- tank -----------------------------------------------------------------------------------


def make_tank(
    session: Session,
    label: str,
    *,
    litres: float = 40,
    role: TankRole = TankRole.LARVAL,
    rack: str = "",
    system: str = "",
    state: TankState | None = None,
    at: datetime = LONG_AGO,
) -> int:
    """One tank that stood in the room from `at` on."""
    return tank.add_tanks(
        session, posting=Posting(now=at), labels=label, volume=f"{litres:g} L", role=role,
        rack=rack, system=system, state=state, when=When.exactly(at),
    )  # fmt: skip


def set_state(
    session: Session, tank_id: int, state: TankState, *, at: datetime, reason: str = ""
) -> int:
    """How a tank stands from `at` on."""
    return tank.set_state(
        session, posting=Posting(now=at), tank_id=tank_id, state=state, reason=reason,
        when=When.exactly(at),
    )  # fmt: skip


def make_treatment(session: Session, tank_id: int, *, at: datetime, **facts: Any) -> int:
    """A treatment of a tank begun at `at`, again every day, two times more."""
    facts = {"what": "blue tub", "every_days": 1, "repeats": 2} | facts
    return treatment.record_treatment(
        session, posting=Posting(now=at), tank_id=tank_id, when=When.exactly(at), **facts
    )


def set_set_point(session: Session, tank_id: int, temperature: str, *, at: datetime) -> int:
    """What a tank's heater is set to from `at` on."""
    return tank.set_set_point(
        session, posting=Posting(now=at), tank_id=tank_id, temperature=temperature,
        when=When.exactly(at),
    )  # fmt: skip


def read_temperature(session: Session, tank_id: int, temperature: str, *, at: datetime) -> int:
    """One temperature read then, as typed ("26.5", "79.7 F")."""
    return readings.record_temperature(
        session, posting=Posting(now=at), tank_id=tank_id, temperature=temperature,
        when=When.exactly(at),
    )  # fmt: skip


def floating_species(library: Mapping[str, Species]) -> Species:
    """The barber goby with the floating eggs of Epinephelus septemfasciatus, as a keeper's file.

    46 h at 22.0 °C and 35 h at 25.0 °C (Song et al. 2013, Dev. Reprod. 17(4):369, published);
    the line through both, and half an hour's spread, are worked out and assumed.
    """
    t0_c, k = constants_of_two(46 / 24, 22.0, 35 / 24, 25.0)
    mark = 'mark = "worked out from published", source = "Song et al. 2013"'
    eggs = {
        "t0": f'{{ value = {t0_c}, unit = "°C", {mark} }}',
        "k": f'{{ value = {k}, unit = "degree-days", {mark} }}',
        "spread_between_sources": f'{{ value = 0.2, unit = "degree-days", {mark} }}',
        "spread_clutch_to_clutch": f'{{ value = 0.2, unit = "degree-days", {mark} }}',
        "fitted": f'{{ low = 22, high = 25, unit = "°C", {mark} }}',
        "no_figure_outside": f'{{ low = 20, high = 27, unit = "°C", {mark} }}',
    }
    text = library["elacatinus_figaro"].text
    text = text.replace('mode = "guarded eggs"', 'mode = "pelagic"')
    text = text.replace('tended_by = "male"', 'tended_by = "none"')
    before, rest = text.split("[incubation]")
    after = rest[rest.index("[larval") :]
    lines = "\n".join(f"{key} = {value}" for key, value in eggs.items())
    return load_species(f"{before}[incubation]\n{lines}\n\n{after}", "quill_grouper.toml")


# --- stock book -----------------------------------------------------------------------------


def a_png(width: int = 120, height: int = 90) -> bytes:
    """A pale picture of that size, written by hand: no library is needed for it."""

    def chunk(kind: bytes, said: bytes) -> bytes:
        checked = zlib.crc32(kind + said).to_bytes(4, "big")
        return len(said).to_bytes(4, "big") + kind + said + checked

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress((b"\0" + b"\xd8" * width) * height)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def make_photo(
    session: Session, folder: Path, about_id: int, *, marks: str = "", at: datetime = LONG_AGO
) -> int:
    """A picture of a batch or clutch, marked or not yet."""
    photo_id = photo_count.keep_photo(
        session, posting=Posting(now=at), folder=folder, content=a_png(), about_id=about_id
    )
    photo_count.set_marks(session, photo_id, read_marks(marks))
    return photo_id
