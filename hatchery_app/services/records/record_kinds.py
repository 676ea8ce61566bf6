"""How an entry of each kind is corrected: one table, from which the form is built.

A kind says what can be said anew of it (`parts`), what it is about (`about`: withdrawn with that,
never holding it), and what was entered as one with it: siblings about the same (`as_one`), facts
that it names and that are its own (`carries`).
"""

from dataclasses import dataclass
from enum import Enum, StrEnum

from hatchery_app.domain.broodstock.body_length import Beside, LengthKind
from hatchery_app.domain.broodstock.broodstock import Origin
from hatchery_app.domain.broodstock.leaving import WayOut
from hatchery_app.domain.broodstock.pairing import EndedBecause, LinkKind
from hatchery_app.domain.broodstock.sex_state import Sex, Standing
from hatchery_app.domain.clutch.clutch import (
    CheckKind,
    ClutchOutcome,
    EggMove,
    HatchMethod,
    Incubated,
    Sign,
)
from hatchery_app.domain.errors import NotKnown
from hatchery_app.domain.larval_tank.larval_protocol import FOODS_IN_WATER
from hatchery_app.domain.life_cycle import ROOMS
from hatchery_app.domain.live_food.live_food import Look
from hatchery_app.domain.live_food.shelf import Change, HowGot, StockKind
from hatchery_app.domain.live_food.shrimp_hatch import EndedAs, Ripe
from hatchery_app.domain.live_food.vessel import Cultured, KeptAs, WaterLook
from hatchery_app.domain.stock_book.stock_book import Door, Rise
from hatchery_app.domain.tank.tank import TankRole, TankState
from hatchery_app.domain.today.schedule import Round
from hatchery_app.models import (
    brine_shrimp,
    broodstock,
    clutch,
    cohort,
    counting,
    larval_tank,
    live_food,
    room,
    sale,
    shelf,
    stock_book,
    tank,
    today,
    treatment,
)
from hatchery_app.models.entry import Entry, Withdrawal


class Reads(Enum):
    """How what is typed into a part is read."""

    TEXT = "text"
    HOW_MANY = "how many"
    WHOLE = "whole number"
    FIGURE = "figure"
    WORD = "word of a list"
    DAY = "day"
    CLOCK = "time of day"
    YES_NO = "yes or no"
    FACT = "another entry"
    SPECIES = "a species of the library"
    PARENT = "a parent"
    VOLUME = "volume"
    TEMPERATURE = "temperature"
    READING = "one reading"


@dataclass(frozen=True)
class Part:
    """One thing that can be said anew. `column` is where it stands, and its field's name.

    `words` are the (value, label) pairs of a list, `of` the kind of entry a FACT points to,
    `typed_in` the column that keeps what was typed, `needed` whether it cannot be left empty.
    """

    column: str
    label: str
    reads: Reads = Reads.TEXT
    words: tuple[tuple[str, str], ...] = ()
    of: type[Entry] | None = None
    typed_in: str = ""
    needed: bool = False


@dataclass(frozen=True)
class EntryKind:
    """One kind of entry. `is_dated` is false where its moment belongs to another entry; of a kind
    with `once` one alone can stand about what that column names."""

    model: type[Entry]
    word: str
    room: str
    parts: tuple[Part, ...] = ()
    about: tuple[str, ...] = ()
    as_one: tuple[tuple[type[Entry], str], ...] = ()
    carries: tuple[str, ...] = ()
    is_dated: bool = True
    once: str = ""

    @property
    def name(self) -> str:
        """The kind as entries carry it."""
        return str(self.model.__mapper__.polymorphic_identity)


def _text(column: str, label: str, *, needed: bool = False) -> Part:
    return Part(column, label, needed=needed)


def _word(column: str, label: str, of: type[StrEnum], *, empty: str = "") -> Part:
    words = tuple((word.value, word.value) for word in of)
    return Part(column, label, Reads.WORD, ((("", empty),) if empty else ()) + words,
                needed=not empty)  # fmt: skip


def _whole(column: str, label: str, *, needed: bool = True) -> Part:
    return Part(column, label, Reads.WHOLE, needed=needed)


def _day(column: str, label: str, *, needed: bool = False) -> Part:
    return Part(column, label, Reads.DAY, needed=needed)


def _fact(column: str, label: str, of: type[Entry], *, needed: bool = True) -> Part:
    return Part(column, label, Reads.FACT, of=of, needed=needed)


def _yes(column: str, label: str) -> Part:
    return Part(column, label, Reads.YES_NO)


NUMBER = Part("number", "How many", Reads.HOW_MANY)
REASON = _text("reason", "Reason")
TANK = _fact("tank_id", "Tank", tank.Tank)
SPECIES = Part("species_key", "Species", Reads.SPECIES)
HELD_TO_BE = Part("species_key", "Species", Reads.SPECIES, needed=True)
MOTHER, FATHER = Part("female", "Mother", Reads.PARENT), Part("male", "Father", Reads.PARENT)
ROUNDS = tuple((one.value, one.label) for one in Round)
IN_WATER = tuple((food, food) for food in FOODS_IN_WATER)
FISH, CLUTCH, HOLDING = ("fish_id",), ("clutch_id",), ("holding_id",)

_BROODSTOCK = (
    EntryKind(broodstock.Fish, "Fish", "broodstock", (
        _text("name", "Name", needed=True), SPECIES, _text("species_evidence", "What it rests on"),
        _text("crossed_with", "Crossed with"), _text("variety", "Variety"),
        _word("origin", "Origin", Origin), _text("origin_said", "Origin, as said"),
        _day("born_earliest_on", "Hatched, earliest"), _day("born_latest_on", "Hatched, latest"),
        _fact("clutch_id", "From clutch", clutch.Clutch, needed=False), MOTHER, FATHER,
    )),
    EntryKind(broodstock.BroodGroup, "Group", "broodstock", (
        _text("name", "Name", needed=True), _whole("number", "How many fish"), SPECIES, TANK,
    )),
    EntryKind(broodstock.GroupLeft, "Left a group", "broodstock", (
        _whole("number", "How many fish"), _text("how", "How"),
    ), ("group_id",)),
    EntryKind(broodstock.SpeciesSeen, "Species", "broodstock", (
        HELD_TO_BE, _text("evidence", "What it rests on"), _text("crossed_with", "Crossed with"),
    ), FISH),
    EntryKind(broodstock.SexSeen, "Sex", "broodstock", (
        _word("sex", "Sex", Sex), _word("standing", "How sure", Standing),
        _text("evidence", "Evidence"),
    ), FISH),
    EntryKind(broodstock.LengthMeasured, "Length", "broodstock", (
        Part("length_mm", "Length in mm", Reads.FIGURE, typed_in="typed", needed=True),
        _word("measure", "Measured as", LengthKind), _yes("by_eye", "By eye"),
    ), FISH),
    EntryKind(broodstock.SizeLooked, "Size beside another", "broodstock", (
        _word("beside", "It looked", Beside),
    ), ("fish_id", "other_id")),
    EntryKind(broodstock.FishPlaced, "Place of a fish", "broodstock", (TANK,), FISH),
    EntryKind(broodstock.FishLeft, "Left the room", "broodstock", (
        _word("door", "How", WayOut), REASON,
    ), FISH, once="fish_id"),
    EntryKind(broodstock.HealthBarred, "Bar", "broodstock", (
        _text("reason", "Reason", needed=True),
    ), FISH),
    EntryKind(broodstock.HealthBarLifted, "Bar lifted", "broodstock", (), ("bar_id",),
              once="bar_id"),
    EntryKind(broodstock.Pair, "Pair", "broodstock", (
        _text("name", "Name"), _fact("female_id", "Female", broodstock.Fish),
        _fact("male_id", "Male", broodstock.Fish), _word("link", "They are", LinkKind),
        _whole("earlier_clutches", "Clutches before the records"),
    )),
    EntryKind(broodstock.PairEnded, "End of a pair", "broodstock", (
        _word("because", "Because", EndedBecause),
    ), ("pair_id", "fish_left_id"), once="pair_id"),
    EntryKind(broodstock.FeedingRota, "Feeding rota", "broodstock", (
        _text("dry", "Dry foods", needed=True), _text("frozen", "Frozen foods"),
        _text("fresh", "Fresh foods"), _whole("meals_a_day", "Meals a day"),
    )),
)  # fmt: skip

_EGGS = (
    EntryKind(clutch.Laying, "Laying", "spawn", (
        NUMBER, _text("surface", "Surface"), SPECIES, TANK,
        _fact("pair_id", "Pair", broodstock.Pair, needed=False), MOTHER, FATHER,
    )),
    EntryKind(clutch.Clutch, "Clutch", "clutch", (
        _whole("number", "Number"), _text("part", "Part"),
    ), ("laying_id",), is_dated=False),
    EntryKind(clutch.EggsMoved, "Place of the eggs", "clutch", (
        TANK, _word("why", "Why", EggMove),
        _fact("tended_by_pair_id", "Tended by", broodstock.Pair, needed=False),
    ), CLUTCH),
    EntryKind(clutch.ClutchCheck, "Look at a clutch", "clutch", (
        _word("check_kind", "Seen", CheckKind), _word("sign", "Sign", Sign, empty="no sign"),
        _yes("seen", "It was seen"), _day("night_on", "Night of"), NUMBER,
    ), CLUTCH),
    EntryKind(clutch.Hatch, "Hatch", "clutch", (
        NUMBER, _text("share", "Share"), _day("night_on", "Night of", needed=True),
        _day("last_night_on", "Or as late as the night of"),
        _word("method", "How", HatchMethod), _yes("found_by_day", "Found by day"),
        _yes("after_handling", "Right after handling"), _yes("hour_known", "The hour is known"),
        _word("incubated", "Days from the laying to this hatch", Incubated),
    ), CLUTCH, as_one=((clutch.ClutchEnded, "clutch_id"),)),
    EntryKind(clutch.ClutchEnded, "End of a clutch", "clutch", (
        _word("outcome", "How", ClutchOutcome), REASON,
    ), CLUTCH, once="clutch_id"),
)  # fmt: skip

_STOCK = (
    EntryKind(larval_tank.PreySeen, "Prey", "larval_tank", (
        Part("food", "Food", Reads.WORD, IN_WATER, needed=True),
        Part("per_ml", "Per mL", Reads.FIGURE), _word("look", "Look", Look, empty="counted"),
        Part("topped_up_to_per_ml", "Topped up to per mL", Reads.FIGURE),
    ), ("tank_id",)),
    EntryKind(larval_tank.Concentrate, "Concentrate", "larval_tank", (
        Part("per_ml", "Per mL", Reads.FIGURE, typed_in="typed", needed=True),
    )),
    EntryKind(larval_tank.StageSeen, "Mark of a batch", "larval_tank", (
        _word("mark", "Seen", larval_tank.StageMark),
    ), HOLDING),
    EntryKind(stock_book.Holding, "Batch", "larval_tank", (
        _text("name", "Name"), SPECIES, _day("hatched_first_on", "Hatched, first night"),
        _day("hatched_last_on", "Hatched, last night"),
    )),
    EntryKind(stock_book.HoldingPlaced, "Place of a batch", "larval_tank", (TANK,), HOLDING),
    EntryKind(stock_book.Moved, "Movement", "stock_book", (
        NUMBER, _word("door", "Door", Door), REASON,
    ), ("out_of_id", "into_id", "hatch_id")),
    EntryKind(stock_book.StockCount, "Count", "stock_book", (
        NUMBER, _whole("settled", "Settled", needed=False),
        _whole("swimming", "Swimming", needed=False), _word("rise", "If above the book", Rise),
        _yes("is_start", "It is the number that was put in"),
    ), HOLDING),
    EntryKind(stock_book.OtherClutch, "Found to be of another clutch", "stock_book", (), HOLDING,
              is_dated=False),
    EntryKind(counting.RecoveryTrial, "Trial of counting", "stock_book", (
        _whole("known_number", "How many were put in"), _text("counts", "Counted", needed=True),
        Part("aliquot_ml", "One sample, mL", Reads.FIGURE, needed=True),
        Part("total_ml", "Out of how many mL", Reads.FIGURE, needed=True),
    )),
    EntryKind(counting.PhotoMarked, "Marks on a picture", "stock_book", (), ("number_id",),
              is_dated=False),
    EntryKind(cohort.LengthsSampled, "Lengths", "cohort", (
        _text("lengths_mm", "Lengths in mm", needed=True),
        _word("measure", "Measured as", LengthKind),
    ), HOLDING),
    EntryKind(cohort.SaleSize, "Sale size", "cohort", (
        HELD_TO_BE, Part("length_mm", "Length in mm", Reads.FIGURE, typed_in="typed", needed=True),
    )),
    EntryKind(cohort.Graded, "Grade", "cohort", (
        _text("grade", "Grade", needed=True),
        _whole("number", "How many (empty: not counted)", needed=False),
        _yes("may_be_sold", "May be sold"),
    ), HOLDING),
    EntryKind(sale.Sale, "Sale", "sale", (
        _text("for_whom", "For whom"),
    ), ("holding_id", "moved_id"), carries=("moved_id",)),
    EntryKind(sale.ArrivalReport, "Found on arrival", "sale", (
        _whole("dead", "Dead on arrival"),
    ), ("sale_id", "moved_id"), carries=("moved_id",)),
    EntryKind(cohort.Held, "Hold", "cohort", (
        _whole("number", "How many"), _text("for_whom", "For whom"), _day("until_on", "Until"),
    ), HOLDING),
    EntryKind(cohort.HoldReleased, "Hold ended", "cohort", (
        _whole("number", "How many"),
    ), ("held_id",)),
    EntryKind(cohort.SetAside, "Set aside", "cohort", (
        _whole("number", "How many (empty: all)", needed=False), REASON,
    ), HOLDING),
    EntryKind(cohort.SetAsideEnded, "No longer set aside", "cohort", (), ("set_aside_id",)),
)  # fmt: skip

_CULTURES = (
    EntryKind(live_food.CultureStarted, "Culture", "live_food", (
        _word("food", "Food", Cultured), _text("strain", "Strain"),
        _word("kept_as", "Kept", KeptAs), Part("salinity_psu", "Salinity, psu", Reads.FIGURE),
        _text("seed", "Seed"),
    ), ("tank_id", "from_tank_id")),
    EntryKind(live_food.CultureCounted, "Count of a culture", "live_food", (
        _text("counts", "Each sample's number (empty: a look)"),
        _whole("eggs", "Eggs on them", needed=False),
        Part("sample_ml", "One sample, mL", Reads.FIGURE, needed=True),
        Part("dilution", "Diluted 1 to", Reads.FIGURE, needed=True),
        _word("look", "Or a look", Look, empty="counted"),
    ), ("tank_id",)),
    EntryKind(live_food.CopepodsCounted, "Count of copepods", "live_food", (
        _whole("nauplii", "Nauplii"), _whole("copepodites", "Copepodites"),
        _whole("adults", "Adults"), Part("sample_ml", "Sample, mL", Reads.FIGURE, needed=True),
        Part("dilution", "Diluted 1 to", Reads.FIGURE, needed=True),
    ), ("tank_id",)),
    EntryKind(live_food.CultureLooked, "Look at a culture", "live_food", (
        _word("seen", "Seen", WaterLook),
    ), ("tank_id",)),
    EntryKind(live_food.CultureFed, "Feed of a culture", "live_food", (
        _text("what", "Food", needed=True), Part("amount", "Amount", Reads.FIGURE),
    ), ("tank_id",)),
    EntryKind(live_food.CultureHarvested, "Harvest", "live_food", (
        Part("litres", "Litres", Reads.FIGURE), Part("animals", "Animals", Reads.FIGURE),
        _text("into", "Into"),
    ), ("tank_id",)),
    EntryKind(live_food.CultureCrashed, "Culture lost", "live_food", (REASON,), ("tank_id",)),
)  # fmt: skip

_SHRIMP_AND_SHELF = (
    EntryKind(shelf.ShelfItem, "On the shelf", "live_food", (
        _text("name", "Name", needed=True), _word("stock_kind", "What it is", StockKind),
        Part("amount", "How much came", Reads.FIGURE), _word("how", "How it was got", HowGot),
        _day("opened_on", "Opened on"), _day("best_before_on", "Best before"),
        _whole("delivery_days", "Days from order to door", needed=False),
        Part("dry_fraction", "Dry fraction (0 to 1)", Reads.FIGURE),
        Part("cells_per_ml", "Cells per mL", Reads.FIGURE),
        Part("particle_from_um", "Smallest grain, µm", Reads.FIGURE),
        Part("particle_to_um", "Largest grain, µm", Reads.FIGURE),
    )),
    EntryKind(shelf.ShelfChanged, "Change on the shelf", "live_food", (
        _word("change", "What", Change), Part("amount", "How much", Reads.FIGURE),
        _word("how", "How it was got", HowGot), _text("what_for", "What for"),
    ), ("shelf_id",)),
    EntryKind(shelf.CultureFoodTaken, "Food taken from the shelf", "live_food", (
        _fact("shelf_id", "From", shelf.ShelfItem),
    ), ("fed_id", "shelf_id"), is_dated=False),
    EntryKind(brine_shrimp.CystLot, "Lot of cysts", "live_food", (
        _text("grade", "Grade"), Part("hatch_percent", "Hatching percentage", Reads.FIGURE),
        Part("nauplii_per_g", "Nauplii per g", Reads.FIGURE),
    ), ("shelf_id",), carries=("shelf_id",)),
    EntryKind(brine_shrimp.CystsStarted, "Cysts started", "live_food", (
        _fact("lot_id", "Lot", brine_shrimp.CystLot),
        Part("grams", "Cysts, g", Reads.FIGURE, needed=True),
        Part("litres", "Litres", Reads.FIGURE, needed=True),
        Part("temperature_c", "Temperature, °C", Reads.FIGURE, needed=True),
        Part("salinity_psu", "Salinity, psu", Reads.FIGURE), _text("vessel", "Vessel"),
    ), ("lot_id",)),
    EntryKind(brine_shrimp.ShrimpHarvested, "Harvest of brine shrimp", "live_food", (
        Part("animals", "Animals got", Reads.FIGURE), _word("ripe", "It was", Ripe),
        _whole("nauplii", "Nauplii in the sample", needed=False),
        _whole("umbrellas", "Umbrellas in it", needed=False),
        _whole("embryos", "Embryos in it", needed=False), _yes("rinsed", "Rinsed"),
    ), ("start_id",)),
    EntryKind(brine_shrimp.ShrimpEnriched, "Enrichment", "live_food", (
        _text("what", "With what"), Part("hours", "Hours", Reads.FIGURE, needed=True),
        Part("amount", "How much", Reads.FIGURE), Part("litres", "Litres", Reads.FIGURE),
    ), ("start_id",)),
    EntryKind(brine_shrimp.ShrimpFed, "Brine shrimp fed", "live_food", (
        Part("animals", "Animals", Reads.FIGURE), _text("into", "Where they went"),
        _yes("rinsed", "Rinsed"),
    ), ("start_id",)),
    EntryKind(brine_shrimp.HatchOver, "End of a shrimp hatch", "live_food", (
        _word("ended_as", "How", EndedAs), REASON,
    ), ("start_id",)),
)  # fmt: skip

_ROOM = (
    EntryKind(tank.Tank, "Tank", "tank", (
        _text("label", "Label", needed=True),
        Part("volume_l", "Volume", Reads.VOLUME, typed_in="volume_typed", needed=True),
        _word("role", "Role", TankRole), _text("system", "System"), _text("rack", "Rack"),
        _whole("walk_order", "Place on the walk"),
    )),
    EntryKind(tank.TankStateSeen, "State of a tank", "tank", (
        _word("state", "State", TankState), REASON,
    ), ("tank_id",)),
    EntryKind(tank.SetPoint, "Set point", "tank", (
        Part("temperature_c", "Temperature", Reads.TEMPERATURE, typed_in="typed", needed=True),
    ), ("tank_id",)),
    EntryKind(tank.Readings, "Readings", "tank", (
        TANK, Part("value", "Value", Reads.READING, needed=True),
    ), ("tank_id",)),
    EntryKind(treatment.Treatment, "Treatment", "tank", (
        _text("what", "What was used", needed=True), _text("amount", "How much"), REASON,
        _text("barred", "What is barred meanwhile"),
        _text("system", "All tanks of the system (empty: this tank)"),
        _whole("every_days", "Again every so many days", needed=False),
        _whole("repeats", "How many times more", needed=False),
    ), ("tank_id",)),
    EntryKind(treatment.TreatmentEnded, "End of a treatment", "tank", (
        _text("how", "How"),
    ), ("treatment_id",), once="treatment_id"),
    EntryKind(room.RoomFacts, "The room", "records", (
        _text("name", "Name", needed=True),
    )),
    EntryKind(room.LightHours, "Lights", "records", (
        Part("on_at", "Lights on", Reads.CLOCK, needed=True),
        Part("off_at", "Lights off", Reads.CLOCK, needed=True), _text("rack", "Rack"),
        _fact("tank_id", "Tank", tank.Tank, needed=False),
    ), ("tank_id",)),
    EntryKind(today.TaskAnswered, "Task", "today", (
        REASON, _text("really_done", "What was done"),
    )),
    EntryKind(today.Chore, "Chore", "today", (
        _text("what", "What", needed=True), Part("round", "Round", Reads.WORD, ROUNDS, needed=True),
        _fact("tank_id", "Tank", tank.Tank, needed=False),
        _day("first_on", "First day", needed=True), _day("last_on", "Last day"),
    )),
)  # fmt: skip

KINDS: tuple[EntryKind, ...] = (
    _BROODSTOCK + _EGGS + _STOCK + _CULTURES + _SHRIMP_AND_SHELF + _ROOM
)
_BY_NAME = {kind.name: kind for kind in KINDS}


def kind_named(name: str) -> EntryKind:
    """The kind that entries carry under this name.

    A kind that no table names can be dated anew, noted and withdrawn like all others.
    """
    if name in _BY_NAME:
        return _BY_NAME[name]
    for mapper in Entry.__mapper__.self_and_descendants:
        if mapper.polymorphic_identity == name and mapper.class_ is not Withdrawal:
            return EntryKind(mapper.class_, name.replace("_", " ").capitalize(), "records")
    raise NotKnown(f"There are no entries of a kind “{name}”.")


def kinds_of(room_word: str) -> tuple[str, ...]:
    """The kinds that are entered in a room."""
    return tuple(kind.name for kind in KINDS if kind.room == room_word)


ROOMS_OF_KINDS = tuple(one for one in ROOMS if any(kind.room == one.word for kind in KINDS))
"""The rooms that have entries, in the order of the table of contents."""
