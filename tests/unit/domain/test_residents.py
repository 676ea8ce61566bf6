"""What lives in a tank, and the spells that dated placings make."""

from datetime import UTC, datetime, timedelta

from hatchery_app.domain.tank.residents import Kind, Living, Resident, Spell, spells

MONDAY = datetime(2026, 11, 16, 9, 0, tzinfo=UTC)
L1, L2 = 1, 2
RUSK = 7


def on(day: int) -> datetime:
    return MONDAY + timedelta(days=day)


def lives(kind: Kind, name: str = "", **known: int) -> Resident:
    return Resident(kind, 1, name, "amphiprion_ocellaris", MONDAY, **known)


def test_a_fish_is_in_one_tank_until_it_is_in_the_next():
    assert spells([(RUSK, L1, on(0)), (RUSK, L2, on(3))], {}) == (
        Spell(RUSK, L1, on(0), on(3)),
        Spell(RUSK, L2, on(3), None),
    )


def test_the_last_spell_ends_when_it_leaves_the_room():
    assert spells([(RUSK, L1, on(0))], {RUSK: on(5)}) == (Spell(RUSK, L1, on(0), on(5)),)


def test_a_second_placing_into_the_same_tank_begins_nothing():
    assert len(spells([(RUSK, L1, on(0)), (RUSK, L1, on(2))], {})) == 1


def test_a_tanks_line_names_its_life_in_a_few_words():
    living = Living((lives(Kind.PAIR, "Rusk and Tansy"), lives(Kind.EGGS, night=6)))
    assert living.words == "Rusk and Tansy, eggs night 6"
    assert lives(Kind.LARVAE, dph=4).words == "larvae 4 dph"
    assert lives(Kind.SETTLED).words == "settled"


def test_eggs_beside_their_parents_lie_in_the_parents_water():
    pair, eggs = lives(Kind.PAIR, "Rusk and Tansy"), lives(Kind.EGGS, night=6)
    assert Living((pair, eggs)).needs == (("amphiprion_ocellaris", "broodstock"),)
    assert Living((eggs,)).needs == (("amphiprion_ocellaris", "larvae"),)
