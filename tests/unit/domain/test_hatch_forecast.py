"""A hatch night by night: what the forecast takes in, and what it says."""

from datetime import date, time, timedelta

import pytest

from hatchery_app.domain.clutch.hatch_evidence import (
    LampOn,
    MovedLate,
    NoneBy,
    PartHatched,
    SignSeen,
)
from hatchery_app.domain.clutch.hatch_forecast import (
    earliest_possible_night,
    hatch_forecast,
    readiness_told,
    tenths,
    what_moved,
)
from hatchery_app.domain.clutch.learned_readiness import Learned, ReadinessInterval, readiness
from hatchery_app.domain.clutch.night_span import NightSpan
from hatchery_app.domain.clutch.thermal_time import Reading, Stay
from hatchery_app.domain.species.species import Incubation
from hatchery_app.domain.when import Lights, Night, RoomTime, When

OCELLARIS = Incubation(16, 87.3, 9, 3.5, 25, 28, 22, 31, 15, 3, 24, 30)
ROOM = RoomTime("Europe/Berlin")
LIGHTS = Lights(time(8), time(20))
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def at(day, hour, minute=0):
    """An instant of November 2026 by the room's clock; the clutch is laid on the 2nd."""
    return ROOM.planned(date(2026, 11, day), time(hour, minute))


def night(number):
    return Night(date(2026, 11, 2) + number * DAY)


LAID = When.exactly(at(2, 11))


def tank(temperature_c=27.0, **given):
    readings = given.pop("readings", None)
    if readings is None:
        readings = tuple(Reading(at(2, 8) + n * 6 * HOUR, temperature_c) for n in range(120))
    values = {
        "from_at": at(1, 8),
        "until_at": None,
        "set_point_c": None,
        "lights": LIGHTS,
        "name": "L3",
    }
    return Stay(readings=readings, **{**values, **given})


def forecast(*evidence, **given):
    values = {
        "laid": LAID,
        "stays": [tank()],
        "room_time": ROOM,
        "species": OCELLARIS,
        "now": at(8, 9),
        "evidence": evidence,
    }
    return hatch_forecast(**{**values, **given})


def chances(answer):
    return {each.number: each.chance for each in answer.nights}


def told(hatched, *evidence, **given):
    values = {
        "laid": LAID,
        "stays": [tank()],
        "room_time": ROOM,
        "species": OCELLARIS,
        "now": at(20, 9),
    }
    nights = NightSpan.sure(hatched) if isinstance(hatched, Night) else hatched
    return readiness_told(hatched=nights, evidence=evidence, **{**values, **given})


# --- the plain forecast


def test_at_27_c_the_default_gives_three_or_four_nights_about_the_seventh():
    answer = forecast()
    assert answer.window_said == "night 6–9, most likely 7"
    assert answer.prepare_from == night(6)
    assert answer.window_chance >= 0.9
    assert "from the species default" in answer.reasons


def test_the_window_is_the_shortest_run_of_nights_that_holds_nine_tenths():
    answer = forecast()
    numbers = sorted(chances(answer))
    first, last = (each.number(night(0)) for each in answer.window)
    length = last - first
    shorter = [sum(chances(answer)[n] for n in range(k, k + length)) for k in numbers[:-length]]
    assert max(shorter) < 0.9


def test_nights_run_at_least_fourteen_ahead_of_tonight():
    assert len(forecast(now=at(8, 9)).ahead) >= 15
    assert len(forecast(now=at(28, 9)).ahead) >= 15


def test_chances_with_what_lies_beyond_make_one():
    answer = forecast()
    assert sum(chances(answer).values()) + answer.chance_beyond == pytest.approx(1)


def test_after_midnight_tonight_is_still_last_evenings_night():
    answer = forecast(now=at(9, 0, 15))
    assert answer.tonight == night(6)
    assert answer.chance_tonight == answer.on(night(6)).chance


def test_warmer_water_brings_the_hatch_forward():
    assert forecast(stays=[tank(28)]).likeliest < forecast(stays=[tank(25)]).likeliest


def test_chances_are_shown_in_tenths_until_a_pair_has_five_hatches():
    four = Learned(pair=(ReadinessInterval(70, 81),) * 4)
    five = Learned(pair=(ReadinessInterval(70, 81),) * 5)
    assert forecast(learned=four).in_tenths
    assert not forecast(learned=five).in_tenths
    assert [tenths(chance) for chance in (0.04, 0.05, 0.34, 0.95, 1)] == [0, 1, 3, 10, 10]


def test_a_pairs_own_hatches_narrow_the_window_and_are_counted():
    own = Learned(pair=(ReadinessInterval(67, 78),) * 4)
    answer = forecast(learned=own)
    assert "from this pair: 4 hatches" in answer.reasons
    assert len([c for c in chances(answer).values() if c > 0.05]) < len(
        [c for c in chances(forecast()).values() if c > 0.05]
    )


# --- the hour


def test_watch_from_a_quarter_hour_after_that_racks_lights_off_for_three_hours():
    late_rack = tank(lights=Lights(time(10), time(22)))
    answer = forecast(stays=[late_rack])
    evening = answer.likeliest.evening.day
    assert answer.watch_from == at(evening, 22, 15)
    assert answer.watch_until == at(evening + 1, 1)


def test_a_pairs_own_delay_sets_the_hour_to_watch_from():
    answer = forecast(learned=Learned(delays_minutes=(40,)))
    assert answer.watch_from == at(answer.likeliest.evening.day, 20, 40)


def test_a_pair_that_hatches_late_is_watched_to_its_own_hour():
    answer = forecast(learned=Learned(delays_minutes=(240,)))
    assert answer.watch_until == at(answer.likeliest.evening.day + 1, 0)


def test_a_tile_moved_to_another_rack_goes_dark_with_that_racks_lamp():
    vessel = tank(from_at=at(7, 12), lights=Lights(time(9), time(18)), name="vessel")
    nights = {each.number: each for each in forecast(stays=[tank(), vessel]).nights}
    assert (nights[4].place, nights[4].dark_from) == ("L3", at(6, 20))
    assert (nights[5].place, nights[5].dark_from) == ("vessel", at(7, 18))


# --- uncertain laying


def test_an_uncertain_laying_widens_the_window_and_is_named():
    vague = When.between(at(2, 11), at(4, 2), said="found Wed, last looked Mon")
    wide = forecast(laid=vague)
    assert max(chances(wide).values()) < max(chances(forecast()).values())
    assert any(reason.startswith("laid between Mon 2 Nov 11:00") for reason in wide.reasons)
    assert wide.narrows == "Eyes or silver, once seen, narrow it."


def test_eyes_narrow_an_uncertain_laying():
    vague = When.between(at(2, 11), at(5, 11))
    plain = forecast(laid=vague)
    looked = forecast(
        SignSeen(at(5, 20), "eyes", seen=False), SignSeen(at(7, 9), "eyes"), laid=vague
    )
    assert max(chances(looked).values()) > max(chances(plain).values())


# --- temperature


def test_a_heater_failure_delays_the_hatch_widens_it_and_is_named():
    readings = [Reading(at(2, 8) + n * HOUR, 27.0) for n in range(80)]
    readings += [Reading(at(5, 16) + n * HOUR, 23.5) for n in range(31)]
    readings += [Reading(at(6, 23) + n * HOUR, 27.0) for n in range(40)]
    chilled = forecast(stays=[tank(readings=tuple(readings))])
    assert chilled.prepare_from >= forecast().prepare_from
    assert chilled.reached_dd < forecast().reached_dd - 4
    assert any(reason.startswith("30 h at 23.5 °C on 5–6 Nov") for reason in chilled.reasons)


def test_days_without_a_reading_are_said():
    holed = tank(readings=(Reading(at(2, 8), 27.0), Reading(at(5, 8), 27.0), Reading(at(8, 8), 27)))
    reasons = forecast(stays=[holed]).reasons
    assert any(reason.startswith("no reading of L3 for") for reason in reasons)


def test_a_tank_nobody_read_is_forecast_from_its_set_point_wider_and_said():
    unread = forecast(stays=[tank(readings=(), set_point_c=27)])
    assert max(chances(unread).values()) < max(chances(forecast()).values())
    assert any("set point 27 °C of L3 assumed" in reason for reason in unread.reasons)
    assert unread.narrows == "A temperature reading each day narrows it."


def test_without_reading_or_set_point_there_is_no_figure_and_it_says_what_would_make_one():
    answer = forecast(stays=[tank(readings=())])
    assert answer.nights == ()
    assert answer.unknown == "L3 has no temperature reading and no set point."
    assert "set point" in answer.narrows


@pytest.mark.parametrize(("temperature_c", "side"), [(21.5, "below 22"), (31.5, "above 31")])
def test_beyond_the_published_range_there_is_no_figure(temperature_c, side):
    answer = forecast(stays=[tank(temperature_c)])
    assert side in answer.unknown
    assert f"{temperature_c:g} °C" in answer.unknown
    assert answer.nights == ()


def test_a_brief_chill_below_the_range_is_named_and_borne():
    readings = [Reading(at(2, 8) + n * HOUR, 21.0 if 50 <= n < 53 else 27.0) for n in range(150)]
    answer = forecast(stays=[tank(readings=tuple(readings))])
    assert answer.unknown is None
    assert any("h at 21.0–24.0 °C" in reason for reason in answer.reasons)


# --- evidence


def test_a_night_watched_in_vain_to_its_end_is_ruled_out():
    answer = forecast(NoneBy(at(9, 5)), now=at(9, 9))
    assert all(chance == 0 for number, chance in chances(answer).items() if number <= 6)
    assert "none until 05:00 on night 6" in answer.reasons


def test_a_watch_that_ended_early_rules_out_only_what_would_have_begun():
    before = chances(forecast(now=at(9, 9)))[6]
    early = chances(forecast(NoneBy(at(8, 20, 30)), now=at(9, 9)))[6]
    later = chances(forecast(NoneBy(at(8, 22)), now=at(9, 9)))[6]
    assert before > early > later > 0


def test_what_is_seen_after_now_is_not_known_yet():
    assert chances(forecast(NoneBy(at(9, 5)))) == chances(forecast())


def test_a_lamp_left_on_bars_its_night_and_the_chance_moves_to_the_next():
    plain, lit = chances(forecast()), chances(forecast(LampOn(night(7))))
    assert lit[7] == 0
    assert lit[8] == pytest.approx(plain[7] + plain[8])
    assert forecast(LampOn(night(7))).on(night(7)).lamp_on
    assert "lamp on all night 7: no hatch in the light" in forecast(LampOn(night(7))).reasons


def test_a_tile_moved_late_spreads_over_more_evenings():
    plain, moved = chances(forecast()), chances(forecast(MovedLate(at(8, 19))))
    assert max(moved.values()) < max(plain.values())
    assert moved[10] > plain[10]


def test_after_a_part_has_hatched_the_rest_is_due_the_next_night():
    answer = forecast(PartHatched(night(6), "about a third"), now=at(9, 9))
    assert answer.likeliest == night(7)
    assert all(chance == 0 for number, chance in chances(answer).items() if number <= 6)
    assert answer.part_hatched
    assert not answer.overdue
    assert "about a third hatched on night 6, the rest remains" in answer.reasons


def test_while_the_hatch_hours_run_the_rest_may_still_come_the_same_night():
    answer = forecast(PartHatched(night(6)), now=at(8, 21))
    assert answer.chance_tonight > 0.5


def test_silver_eyes_bring_the_hatch_near_and_no_silver_puts_it_off():
    seen = forecast(SignSeen(at(8, 9), "silver"))
    missing = forecast(SignSeen(at(8, 9), "silver", seen=False))
    assert chances(seen)[6] > chances(forecast())[6] > chances(missing)[6]


def test_each_entry_says_how_far_it_moved_the_forecast():
    none, lamp = what_moved(
        laid=LAID,
        stays=[tank()],
        room_time=ROOM,
        species=OCELLARIS,
        evidence=[NoneBy(at(9, 5)), LampOn(night(7))],
        now=at(9, 9),
    )
    assert none.words == "none until 05:00 on night 6"
    assert none.nights_later > 0
    assert lamp.nights_later > 0


# --- late


def test_when_nearly_all_the_chance_has_passed_the_clutch_is_overdue():
    assert not forecast(now=at(11, 9)).overdue
    overdue = forecast(now=at(12, 9))
    assert overdue.overdue
    assert forecast(now=at(14, 9)).very_late
    assert overdue.look_after <= overdue.tonight


def test_when_every_night_was_watched_in_vain_it_says_look_at_the_eggs():
    answer = forecast(NoneBy(at(26, 9)), now=at(26, 9))
    assert "look at the eggs" in answer.unknown
    assert answer.very_late
    assert answer.likeliest is None


# --- before the first believable night


def test_the_earliest_night_to_be_believed_lies_before_the_window():
    earliest = earliest_possible_night(
        laid=LAID, stays=[tank()], room_time=ROOM, species=OCELLARIS, now=at(3, 9)
    )
    assert night(3) < earliest < forecast().prepare_from


# --- what a clutch teaches


def test_a_hatch_tells_the_thermal_time_between_two_window_ends():
    seen = told(night(7))
    assert seen.beyond_dd == pytest.approx(11 * (6 + 12 / 24))
    assert seen.up_to_dd == pytest.approx(11 * (7 + 12 / 24))


def test_a_lamp_lit_night_before_the_hatch_widens_what_it_tells():
    assert told(night(7), LampOn(night(6))).beyond_dd == pytest.approx(11 * 5.5)


def test_a_clutch_watched_in_vain_and_lost_tells_that_readiness_lay_beyond():
    lost = told(None, NoneBy(at(9, 5)))
    assert lost.beyond_dd == pytest.approx(11 * 6.5)
    assert not lost.is_hatch
    assert told(None) is None


def test_a_watch_that_ended_before_the_hatch_hours_rules_out_only_the_night_before():
    assert told(None, NoneBy(at(8, 21))).beyond_dd == pytest.approx(11 * 5.5)


def test_a_hatch_after_its_hours_were_watched_in_vain_tells_the_next_interval():
    handled = told(night(6), NoneBy(at(9, 5)))
    assert handled.beyond_dd == pytest.approx(11 * 6.5)
    assert handled.up_to_dd == pytest.approx(11 * 7.5)


def test_an_uncertain_laying_widens_what_a_hatch_tells():
    vague = told(night(7), laid=When.between(at(2, 8), at(2, 18)))
    exact = told(night(7))
    assert vague.beyond_dd < exact.beyond_dd
    assert vague.up_to_dd > exact.up_to_dd


def test_nothing_is_learned_without_a_temperature_or_beyond_the_range():
    assert told(night(7), stays=[tank(readings=())]) is None
    assert told(night(7), stays=[tank(21)]) is None


# --- clocks


def test_a_clock_change_inside_incubation_lengthens_nothing_but_the_wall_time():
    laid = When.exactly(ROOM.planned(date(2013, 10, 19), time(18)))
    stay = Stay(laid.earliest, None, (), 25.0, Lights(time(9), time(22)), "nest")
    answer = hatch_forecast(
        laid=laid,
        stays=[stay],
        room_time=ROOM,
        species=OCELLARIS,
        now=ROOM.planned(date(2013, 10, 29), time(9)),
    )
    tenth = answer.on(Night(date(2013, 10, 29)))
    assert tenth.number == 10
    assert ROOM.local(tenth.dark_from).hour == 22
    assert tenth.dark_from - laid.earliest == timedelta(days=10, hours=5)


def test_a_mended_heater_is_said_and_the_days_ahead_are_the_usual_ones():
    failed = at(5, 8)
    readings = tuple(
        Reading(moment, 23.5 if failed <= moment < failed + 30 * HOUR else 27.0)
        for moment in (at(2, 8) + n * 3 * HOUR for n in range(60))
    )
    mended = forecast(stays=[tank(readings=readings)], now=at(6, 20))
    said = "ahead: 27 °C, the mean of the last 3 days without the hours outside 24–30 °C"
    assert any(reason.startswith(said) for reason in mended.reasons)
    assert any("23.5 °C" in reason and " h at " in reason for reason in mended.reasons)
    # Still cold: nothing is left out, and the window is the later for it.
    still = forecast(stays=[tank(readings=readings)], now=at(6, 2))
    assert not any("without the hours" in reason for reason in still.reasons)


# --- found late


def test_a_hatch_found_late_teaches_the_whole_of_its_nights_and_never_the_middle():
    late = told(NightSpan(night(6), night(8)))
    assert late.beyond_dd == told(night(6)).beyond_dd
    assert late.up_to_dd == told(night(8)).up_to_dd
    # As likely as one of its nights, whatever the pair: what lies between is added up.
    nights = [told(night(number)) for number in (6, 7, 8)]
    for mean_dd in (70, 82, 95):
        whole = sum(one.likelihood(mean_dd, 3.5) for one in nights)
        assert late.likelihood(mean_dd, 3.5) == pytest.approx(whole)


def test_a_late_found_hatch_moves_the_pair_less_than_a_sure_one():
    sure = readiness(OCELLARIS, Learned(pair=(told(night(9)),)))
    late = readiness(OCELLARIS, Learned(pair=(told(NightSpan(night(6), night(9))),)))
    default = readiness(OCELLARIS, None)
    assert default.mean_dd <= late.mean_dd < sure.mean_dd
    assert sure.sd_dd < late.sd_dd <= default.sd_dd


def test_a_watch_between_two_looks_is_a_window_that_passed():
    watched = told(NightSpan(night(6), night(7)), NoneBy(at(9, 5)))
    assert watched == told(night(7), NoneBy(at(9, 5)))


def test_the_rest_of_a_part_found_late_follows_the_last_of_its_nights():
    answer = forecast(PartHatched(night(7), "about half", night(6)), now=at(10, 9))
    assert "about half hatched on one of the nights 6–7, the rest remains" in answer.reasons
    assert answer.likeliest == night(8)
