"""Pairs as they sit, of a room that has been running for years: several lines, one entry.

Every line is read before any is stored. What is wrong is said line by line, and nothing is half
saved.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select

from hatchery_app.domain import how_many
from hatchery_app.domain.broodstock.broodstock import Origin
from hatchery_app.domain.broodstock.pairing import LinkKind
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.domain.since import read_since
from hatchery_app.domain.when import When
from hatchery_app.models.broodstock import Fish, Pair
from hatchery_app.models.entry import known
from hatchery_app.models.tank import Tank
from hatchery_app.services.broodstock.fish import add_fish
from hatchery_app.services.broodstock.pair import add_pair
from hatchery_app.services.recording import Book, use_case
from hatchery_app.services.records.room import room_now
from hatchery_app.services.species.library import library

MOST_CLUTCHES = 2000  # three a month for half a century
NO_CLUTCHES = "A whole number or about so many, or nothing where it is not known."


class LinesRefused(RuleBroken):
    """What is wrong, by line (0 is the first). Nothing was stored."""

    def __init__(self, by_line: dict[int, list[tuple[str, str]]]) -> None:
        count = len(by_line)
        super().__init__(
            f"{count} {'line needs' if count == 1 else 'lines need'} another look. "
            "Nothing is saved yet.",
            field="",
        )
        self.by_line = by_line


@dataclass(frozen=True)
class PairLine:
    """One pair as typed. `since` as a keeper says it: 2023, May 2024, 2024-05-12, or nothing."""

    female: str
    male: str
    tank: str
    species_key: str
    since: str = ""
    clutches_before: str = ""

    @property
    def names(self) -> tuple[str, str]:
        """Her name and his; a pair that is only "the pair in A4" is called after its tank."""
        if self.female or self.male:
            return self.female, self.male
        return f"{self.tank} female", f"{self.tank} male"

    @property
    def is_blank(self) -> bool:
        """Whether nothing was typed; the species is chosen beforehand and does not count."""
        return not any((self.female, self.male, self.tank, self.since, self.clutches_before))


@use_case
def move_pairs_in(book: Book, *, lines: Sequence[PairLine]) -> int:
    """Enter pairs as they sit. Returns the first pair. Raises LinesRefused."""
    filled = [(n, line) for n, line in enumerate(lines) if not line.is_blank]
    if not filled:
        raise RuleBroken("Not one line is filled in.")
    rows = book.session.scalars(select(Tank).where(known())).all()
    # As it is written first: two labels may differ in capitals only.
    tanks = {tank.label.casefold(): tank.fact for tank in rows}
    tanks |= {tank.label: tank.fact for tank in rows}
    room_time = room_now(book.session).room_time
    wrong: dict[int, list[tuple[str, str]]] = {}
    whens: dict[int, When] = {}
    for n, line in filled:
        said = _wrong_with(line, tanks)
        try:
            whens[n] = read_since(line.since, book.now, room_time)
        except RuleBroken as refused:
            said.append(("since", refused.sentence))
        if said:
            wrong[n] = said
    if wrong:
        raise LinesRefused(wrong)
    made = [_enter(book, line, tanks, whens[n]) for n, line in filled]
    return made[0]


def _wrong_with(line: PairLine, tanks: dict[str, int]) -> list[tuple[str, str]]:
    wrong = []
    if line.male and not line.female:
        wrong.append(("female", "The female needs a name, her number will do."))
    if line.female and not line.male:
        wrong.append(("male", "The male needs a name, his number will do."))
    if not line.tank:
        wrong.append(("tank", "Say which tank they sit in."))
    elif _tank_of(line, tanks) is None:
        wrong.append(("tank", f"No tank is labelled {line.tank}. Enter the tanks first."))
    if line.species_key and line.species_key not in library():
        wrong.append(("species_key", "No species file stands for that."))
    try:
        earlier_clutches_said(line.clutches_before, "clutches_before")
    except RuleBroken as refused:
        wrong.append(("clutches_before", refused.sentence))
    return wrong


def _tank_of(line: PairLine, tanks: dict[str, int]) -> int | None:
    return tanks.get(line.tank, tanks.get(line.tank.casefold()))


def earlier_clutches_said(typed: str, field: str) -> int:
    """How many clutches a pair laid before the records, as said: "40", "about 40"; 0 for nothing.

    Raises RuleBroken for what is no number.
    """
    if typed.strip() in ("", "?"):
        return 0
    try:
        said = how_many.parse(typed, field)
    except RuleBroken as refused:
        raise RuleBroken(NO_CLUTCHES, field=field) from refused
    number = said.best if said.best is not None else said.least
    if not number and typed.strip() != "0":
        raise RuleBroken(NO_CLUTCHES, field=field)
    if number > MOST_CLUTCHES:
        raise RuleBroken(f"{number} clutches are more than a pair can lay.", field=field)
    return number


def _enter(book: Book, line: PairLine, tanks: dict[str, int], when: When) -> int:
    tank_id = _tank_of(line, tanks)
    female, male = (
        add_fish(
            book,
            Fish(name=name, species_key=line.species_key, origin=Origin.UNKNOWN),
            when=when,
            tank_id=tank_id,
        )
        for name in line.names
    )
    pair = Pair(
        female_id=female.fact,
        male_id=male.fact,
        link=LinkKind.PAIR,
        earlier_clutches=earlier_clutches_said(line.clutches_before, "clutches_before"),
    )
    vague = line.clutches_before.strip()
    note = f"clutches before these records: {vague}" if vague and not vague.isdecimal() else ""
    return add_pair(book, pair, when=when, note=note).fact
