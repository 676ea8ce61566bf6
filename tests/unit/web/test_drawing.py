"""The drawings: what they say, what they draw, and that nothing on them collides."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from markupsafe import Markup

from hatchery_app.web.drawing import (
    canvas,
    curve,
    labels,
    life_line,
    nights_ahead,
    rhythm,
    ten_eggs,
    walk,
)
from hatchery_app.web.drawing.life_line import CountMark, Happening, LifeLine, Mark
from hatchery_app.web.drawing.rhythm import ClutchMark, Outcome, Rhythm
from hatchery_app.web.drawing.ten_eggs import NightChance
from hatchery_app.web.drawing.walk import Lives, Stop

LAID = datetime(2026, 10, 24, 15, 0, tzinfo=UTC)


def after(days: float) -> datetime:
    return LAID + timedelta(days=days)


def eyed_eggs(markup: Markup) -> int:
    found = re.search(r'class="egg-eyed" d="([^"]*)"', markup)
    return found[1].count("Z") if found else 0


def pale_eggs(markup: Markup) -> int:
    found = re.search(r'class="egg" d="([^"]*)"', markup)
    return found[1].count("Z") if found else 0


@pytest.mark.parametrize(
    ("chance", "words", "eyed"),
    [
        (0.0, "none", 0),
        (0.001, "under 1", 0),
        (0.049, "under 1", 0),
        (0.05, "1 of 10", 1),
        (0.149, "1 of 10", 1),
        (0.15, "2 of 10", 2),
        (0.25, "3 of 10", 3),
        (0.7, "7 of 10", 7),
        (0.949, "9 of 10", 9),
        (0.95, "over 9 of 10", 9),
        (0.999, "over 9 of 10", 9),
        (1.0, "10 of 10", 10),
    ],
)
def test_a_tile_is_never_surer_than_its_chance(chance: float, words: str, eyed: int) -> None:
    night = NightChance("Thu 26", chance)
    assert ten_eggs.chance_words(night) == words
    drawn = ten_eggs.tile(night)
    assert (eyed_eggs(drawn), pale_eggs(drawn)) == (eyed, 10 - eyed)
    assert f'aria-label="Thu 26: {words}"' in drawn


def test_a_chance_beyond_certain_is_refused() -> None:
    for chance in (-0.01, 1.01, float("nan")):
        with pytest.raises(ValueError, match="between 0 and 1"):
            NightChance("tonight", chance)


def test_the_nights_stand_in_a_row_with_what_came_under_them() -> None:
    nights = (
        NightChance("Sat 31", 0.6, past=True, came="a third hatched"),
        NightChance("tonight", 0.3, next=True),
        NightChance("Mon 2", 0.0),
    )
    drawn = ten_eggs.row_of_nights(nights, "Rusk & Tansy")
    assert drawn.count("<li") == 3
    assert 'class="night-cell is-past"' in drawn
    assert 'class="night-cell is-next"' in drawn
    assert 'class="night-cell is-none"' in drawn
    assert "a third hatched" in drawn
    assert ten_eggs.numbers(nights, "x").rows == (
        ("Sat 31", "6 of 10", "a third hatched"),
        ("tonight", "3 of 10", ""),
        ("Mon 2", "none", ""),
    )


def test_a_pair_with_its_own_record_may_say_its_chance_in_its_own_words() -> None:
    night = NightChance("tonight", 0.62, said="13 of 21")
    assert ten_eggs.chance_words(night) == "13 of 21"
    assert eyed_eggs(ten_eggs.tile(night)) == 6


def labels_collide(placed: list[labels.Placed]) -> bool:
    return any(
        one.lane == other.lane
        and one.left < other.left + other.label.width
        and other.left < one.left + one.label.width
        for n, one in enumerate(placed)
        for other in placed[n + 1 :]
    )


def test_labels_on_a_line_never_collide_and_stay_inside_it() -> None:
    words = [labels.Label(at, "brine shrimp") for at in (0, 3, 5, 40, 41, 200, 340, 350, 355)]
    placed = labels.place_labels(words, 358)
    assert not labels_collide(placed)
    assert all(one.left >= 0 and one.left + one.label.width <= 358 for one in placed)
    assert labels.lanes_used(placed) > 1


def test_no_lead_runs_through_the_words_of_another_mark() -> None:
    words = [labels.Label(at, "brine shrimp") for at in (0, 30, 38, 120, 128, 136, 330, 345)]
    placed = labels.place_labels(words, 358)
    assert not any(
        other.covers(one.label.at)
        for one in placed
        for other in placed
        if one.led and other.lane < one.lane
    )
    inside = [one for one in placed if one.left == one.label.at and one.lane > 0]
    assert inside
    assert all(one.led for one in inside)


def test_a_lone_label_stays_in_the_nearest_lane() -> None:
    placed = labels.place_labels([labels.Label(10, "laid"), labels.Label(200, "eyes")], 358)
    assert [one.lane for one in placed] == [0, 0]


def whole_life() -> LifeLine:
    marks = (
        Mark(after(0), "laid", Happening.LAID, "Sat 24 Oct"),
        Mark(after(4), "eyes", Happening.SIGN, "Wed 28 Oct"),
        Mark(after(7.25), "hatch, night 7", Happening.HATCH, "Sat 31 Oct"),
        Mark(after(8.25), "night 8", Happening.HATCH, "Sun 1 Nov"),
        Mark(after(17), "settling", Happening.SETTLING, "10–16 Nov", until_at=after(23)),
        Mark(after(26), "to cohort C7", Happening.MOVE, "Thu 19 Nov"),
    )
    counts = (
        CountMark(after(8), 425, "425 (380–470)", "Sun 1 Nov", 380, 470),
        CountMark(after(26), 309, "309 counted", "Thu 19 Nov"),
    )
    return LifeLine("Clutch 41", marks, counts, after(31), "today, 23 dph")


def test_the_life_line_tells_everything_in_order_in_its_table() -> None:
    rows = life_line.numbers(whole_life()).rows
    assert [row[0] for row in rows] == [str(n) for n in range(1, 9)]
    assert [row[2] for row in rows] == [
        "laid",
        "eyes",
        "hatch, night 7",
        "counted",
        "night 8",
        "settling",
        "to cohort C7",
        "counted",
    ]
    assert ("8", "Thu 19 Nov", "counted", "309 counted") in rows


def test_the_life_line_draws_a_band_from_first_to_last_settled() -> None:
    drawn = life_line.life_line(whole_life())
    bands = re.findall(r'<rect x="([\d.]+)"[^>]*width="([\d.]+)"[^>]*class="d-settling"', drawn)
    wide = (float(bands[-1][0]), float(bands[-1][1]))
    assert len(bands) == 3  # a phone's drawing, a column's and a page's
    scale = (canvas.WIDE - 20) / 31
    assert wide[0] == pytest.approx(10 + 17 * scale, abs=0.2)
    assert wide[1] == pytest.approx(6 * scale, abs=0.2)


def test_a_counted_number_has_no_interval_and_an_estimate_has_one() -> None:
    drawn = life_line.life_line(whole_life())
    assert drawn.count('class="d-interval"') == 3  # the estimate alone, at each width


def crowded_life() -> LifeLine:
    marks = (
        Mark(after(0), "laid", Happening.LAID),
        *(Mark(after(7 + n * 0.2), f"deaths, {n} of them", Happening.SIGN) for n in range(9)),
        Mark(after(7.9), "hatch, night 7", Happening.HATCH),
        Mark(after(9), "hatch, night 8", Happening.HATCH),
    )
    return LifeLine("Clutch 50", marks, (), after(31), "today, 22 dph")


def written(drawn: str) -> list[tuple[float, float, float, str]]:
    """Each word on a drawing with the box it takes at the style sheet's size: left, right, foot."""
    found = re.findall(
        r'<text x="([\d.]+)" y="([\d.]+)" text-anchor="(\w+)"[^>]*>(.*?)</text>', drawn
    )
    boxes = []
    for x, y, anchor, words in found:
        wide = len(words) * labels.LETTER_WIDTH
        left = float(x) - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        boxes.append((left, left + wide, float(y), words))
    return boxes


@pytest.mark.parametrize("life", ["whole", "crowded"])
@pytest.mark.parametrize("width", ["narrow", "middle", "wide"])
def test_no_words_of_a_life_line_stand_on_others_at_any_width(life: str, width: str) -> None:
    drawn = life_line.life_line(whole_life() if life == "whole" else crowded_life())
    boxes = written(drawn.split(f"drawn-{width}")[1].split("</svg>")[0])
    assert len(boxes) > 3
    for n, (left, right, foot, words) in enumerate(boxes):
        for other_left, other_right, other_foot, other in boxes[n + 1 :]:
            apart = left >= other_right or other_left >= right or abs(foot - other_foot) >= 15
            assert apart, f"{words} on {other}"


def test_where_marks_crowd_hatches_keep_their_words_and_the_rest_have_their_table_numbers() -> None:
    drawn = life_line.life_line(crowded_life()).split("drawn-narrow")[1].split("</svg>")[0]
    said = [words for *_, words in written(drawn)]
    assert {"laid", "hatch, night 7", "hatch, night 8"} <= set(said)
    rows = life_line.numbers(crowded_life()).rows
    numbered = [words for words in said if re.fullmatch(r"[\d–]+", words)]
    assert numbered
    told = {
        n for run in numbered for n in range(int(run.split("–")[0]), int(run.split("–")[-1]) + 1)
    }
    unsaid = {int(row[0]) for row in rows if row[2] not in said}
    assert unsaid <= told


def test_labels_that_crowd_give_way_by_rank_and_no_more_than_they_must() -> None:
    words = [labels.Label(at, "brine shrimp") for at in (0, 10, 20, 30, 300)]
    placed = labels.place_in_lanes(words, [3, 0, 3, 3, 0], 500, most_lanes=3)
    assert [one is None for one in placed] == [False, True, False, False, False]


def test_the_life_line_of_a_clutch_laid_this_moment_can_be_drawn() -> None:
    new = LifeLine("Clutch 42", (Mark(LAID, "laid", Happening.LAID),), (), LAID, "today")
    assert "laid" in life_line.life_line(new)
    assert "nan" not in life_line.life_line(new)


def test_words_of_the_room_are_escaped_on_a_drawing() -> None:
    odd = LifeLine("<b>", (Mark(LAID, "<script>", Happening.SIGN),), (), after(1), "today")
    assert "<script>" not in life_line.life_line(odd)
    stop = Stop("A<1", 76, "pair & eggs", Lives.PAIR, url='/tanks/1?"')
    assert "A&lt;1" in walk.walk([stop])
    assert "pair &amp; eggs" in walk.walk([stop])


def test_a_mark_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="before it begins"):
        Mark(after(3), "settling", Happening.SETTLING, until_at=after(2))


def test_a_count_outside_its_interval_is_refused() -> None:
    with pytest.raises(ValueError, match="inside its interval"):
        CountMark(LAID, 500, "500", low=100, high=400)


def test_the_walk_keeps_the_order_of_the_room_and_breaks_into_lines() -> None:
    stops = [Stop(f"L{n}", 40, "larvae 4 dph", Lives.LARVAE, f"/tanks/{n}") for n in range(1, 13)]
    drawn = walk.walk(stops)
    column, page = drawn.split("drawn-wide")
    for shown in (column, page):
        assert re.findall(r'href="/tanks/(\d+)"', shown) == [str(n) for n in range(1, 13)]
    assert (column.count('class="d-thread"'), page.count('class="d-thread"')) == (3, 2)
    assert walk.numbers(stops).rows[0] == ("L1", "40 L", "larvae 4 dph")


def test_a_long_label_pushes_the_next_stop_along_the_thread() -> None:
    long = Stop("Left nursery by the door", 250, "barred", Lives.BARRED)
    drawn = walk.walk([long, Stop("R1", 10, "rotifers 300 per mL", Lives.LIVE_FOOD)])
    heads = [float(x) for x in re.findall(r'<text x="([\d.]+)" y="22"><tspan', drawn)]
    ends = len("Left nursery by the door 250 L") * labels.LETTER_WIDTH
    assert heads[-1] > ends


def test_words_too_long_for_a_stop_are_cut_where_the_list_goes_on() -> None:
    stop = Stop("A1", 76, "Rusk and Tansy with eggs of night 6 and a goby beside them", Lives.EGGS)
    assert len(stop.lines) == walk.MOST_WORD_LINES
    assert stop.lines[-1].endswith(" …")


def test_each_kind_of_stop_has_a_shape_of_its_own() -> None:
    shapes = {
        re.sub(r"<text.*?</text>", "", walk.walk([Stop("A1", 40, "x", lives)])) for lives in Lives
    }
    assert len(shapes) == len(Lives)


def clutch(
    number: int, laid: float, empty: float | None, outcome: Outcome, gap: int | None = None
) -> ClutchMark:
    ended = None if empty is None else after(empty)
    return ClutchMark(after(laid), ended, outcome, f"Clutch {number}", gap_days=gap)


def test_each_outcome_has_a_shape_and_a_word_of_its_own() -> None:
    shapes = set()
    for outcome in Outcome:
        pair = Rhythm("x", (clutch(1, 0, 7, outcome),), after(9))
        drawn = rhythm.rhythm(pair)
        assert outcome.value in drawn
        shapes.add(re.sub(r"<text.*?</text>", "", drawn))
    assert len(shapes) == len(Outcome)


def test_the_days_between_clutches_stand_between_them() -> None:
    clutches = (clutch(1, 0, 7, Outcome.HATCHED), clutch(2, 19, 20, Outcome.EATEN, 12))
    pair = Rhythm("Rusk and Tansy", clutches, after(24), after(26), after(31))
    drawn = rhythm.rhythm(pair)
    assert ">12</text>" in drawn
    assert "next spawn" in drawn
    assert rhythm.numbers(pair).rows[1][2] == "12"


def test_clutches_too_many_for_words_are_explained_by_a_key() -> None:
    clutches = tuple(
        clutch(n, n * 2, n * 2 + 1, Outcome.HATCHED if n % 2 else Outcome.EATEN) for n in range(60)
    )
    drawn = rhythm.rhythm(Rhythm("x", clutches, after(125)))
    wide = drawn.split("drawn-wide")[1]
    assert wide.count(">hatched</text>") == 1
    assert wide.count(">eaten</text>") == 1


def test_a_nest_empty_before_its_laying_is_refused() -> None:
    with pytest.raises(ValueError, match="before the eggs were laid"):
        clutch(1, 5, 4, Outcome.HATCHED)


@pytest.mark.parametrize(
    ("low", "high", "steps"),
    [
        (0, 500, [0, 200, 400, 600]),
        (25.1, 27.6, [25, 26, 27, 28]),
        (0, 1, [0, 0.25, 0.5, 0.75, 1]),
        (7, 7, None),
    ],
)
def test_a_chart_is_ruled_in_round_steps_that_cover_it(
    low: float, high: float, steps: list[float] | None
) -> None:
    ruled = curve.round_steps(low, high)
    assert ruled[0] <= low
    assert ruled[-1] >= high
    if steps is not None:
        assert ruled == steps


def test_a_chart_without_points_says_so() -> None:
    assert "nothing recorded yet" in curve.curve(curve.Curve("Temperature in L2", "°C", ()))


def test_a_chart_shows_intervals_only_where_there_are_some() -> None:
    points = (curve.Point(1, 26.0, "1 Nov"), curve.Point(2, 26.4, "2 Nov", low=26.0, high=26.8))
    chart = curve.Curve("Temperature in L2", "°C", points, within=(25.5, 27.5), from_zero=False)
    drawn = curve.curve(chart)
    assert drawn.count('class="d-interval"') == 2
    assert drawn.count('class="d-band"') == 2
    assert curve.numbers(chart).rows == (("1 Nov", "26"), ("2 Nov", "26.4"))


def test_a_limit_is_drawn_with_its_word_and_inside_the_chart() -> None:
    points = (curve.Point(1, 0.01, "1 Nov"), curve.Point(2, 0.02, "2 Nov"))
    chart = curve.Curve("Ammonia in L2", "mg/L", points, limits=((0.05, "no more than 0.05"),))
    drawn = curve.curve(chart)
    levels = [float(y) for y in re.findall(r'y1="([\d.]+)"[^>]*class="d-limit"', drawn)]
    assert len(levels) == 2
    assert all(curve.TOP <= level <= curve.HEIGHT - curve.FOOT for level in levels)
    assert ">no more than 0.05</text>" in drawn


def test_a_phone_shows_the_last_clutches_and_says_how_many_came_before() -> None:
    clutches = tuple(clutch(n, n * 12, n * 12 + 8, Outcome.HATCHED, 4) for n in range(11))
    drawn = rhythm.rhythm(Rhythm("x", clutches, after(140)))
    phone, rest = drawn.split("drawn-middle")
    assert "3 earlier" in phone
    assert "earlier" not in rest


def test_no_drawing_carries_a_colour_or_a_style_of_its_own() -> None:
    chart = curve.Curve("Eggs", "eggs", (curve.Point(1, 300, "C1"),), bars=True)
    clutches = (clutch(1, 0, 7, Outcome.HATCHED),)
    drawings = [
        ten_eggs.row_of_nights((NightChance("tonight", 0.4),), "x"),
        walk.walk([Stop("A1", 76, "ready", Lives.READY)]),
        life_line.life_line(whole_life()),
        rhythm.rhythm(Rhythm("x", clutches, after(9))),
        curve.curve(chart),
    ]
    for drawn in drawings:
        assert not re.search(r'\b(style|fill|stroke|onclick)="', drawn)


def test_a_table_with_a_ragged_row_is_refused() -> None:
    with pytest.raises(ValueError, match="as many cells"):
        canvas.Numbers("x", ("a", "b"), (("1",),))


# --- Many nights of many clutches ------------------------------------------------------------


def a_fortnight(*chances: float, came: dict[int, str] | None = None) -> nights_ahead.Nights:
    """Fourteen nights from Fri 24 Nov of one clutch, with the room's sum."""
    cells = tuple(
        NightChance(f"night {n}", chance, past=n in (came or {}), came=(came or {}).get(n, ""))
        for n, chance in enumerate((*chances, *[0.0] * 14)[:14])
    )
    days = [datetime(2026, 11, 23, tzinfo=UTC) + timedelta(days=n) for n in range(14)]
    labels = tuple(f"{day:%a} {day.day} {day:%b}" for day in days)
    row = nights_ahead.EggRow("Rusk & Tansy", cells, "A4 · night 5", "/clutches/1")
    tanks = nights_ahead.SumRow("tanks", ("0",) * 14, (True, *[False] * 13))
    return nights_ahead.Nights("The nights", labels, (row,), (tanks,), tonight=0)


def widths_of(markup: Markup) -> dict[str, str]:
    """The three drawings by their width."""
    parts = re.split(r'<div class="drawn-(narrow|middle|wide)">', markup)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def tiles(drawn: str) -> int:
    """How many tiles have an edge."""
    return sum(
        edges.count("M") for edges in re.findall(r'class="tile-edge[^"]*" d="([^"]*)"', drawn)
    )


def test_what_came_is_escaped_where_it_is_drawn() -> None:
    found = a_fortnight(0.0, 0.6, came={0: "<b>"})
    drawn = nights_ahead.nights_drawn(found, "one")
    assert "<b>" not in drawn
    assert "&lt;b&gt;" in drawn


def test_a_fortnight_has_a_tile_a_night_and_the_name_leads_to_the_clutch() -> None:
    drawn = nights_ahead.nights_drawn(a_fortnight(0.1, 0.7, 0.2), "room")
    wide = widths_of(drawn)["wide"]
    assert tiles(wide) == 14
    assert '<a href="/clutches/1">' in wide
    assert "Rusk &amp; Tansy" in wide
    # Each number of eyed eggs is drawn once and used again; no tile is used that is not drawn.
    used = set(re.findall(r'href="#(room-\w+)"', drawn))
    assert used == set(re.findall(r'symbol id="(room-\w+)"', drawn)) == {
        "room-1", "room-7", "room-2", "room-none",
    }  # fmt: skip


def test_a_new_month_is_named_where_it_begins() -> None:
    wide = widths_of(nights_ahead.nights_drawn(a_fortnight(0.7), "room"))["wide"]
    assert "1 Dec" in wide
    assert "2 Dec" not in wide


def test_a_telephone_breaks_the_fortnight_into_weeks_and_leaves_empty_rows_out() -> None:
    narrow = widths_of(nights_ahead.nights_drawn(a_fortnight(0.1, 0.7, 0.2), "room"))["narrow"]
    # The second week has no chance: its dates and the room's sum stay, the clutch's row does not.
    assert narrow.count("Rusk &amp; Tansy") == 1
    assert tiles(narrow) == 7
    assert narrow.count(">tanks<") == 2


def test_a_night_that_passed_says_what_came_and_not_what_was_thought() -> None:
    found = a_fortnight(0.0, 0.6, came={0: "none"})
    drawn = widths_of(nights_ahead.nights_drawn(found, "one"))["wide"]
    assert ">none</text>" in drawn
    assert nights_ahead.numbers(found, "x").rows[0][1] == "none"
    assert nights_ahead.numbers(found, "x").rows[1][1] == "6 of 10"


def test_a_marked_night_has_a_shape_and_not_only_a_colour() -> None:
    wide = widths_of(nights_ahead.nights_drawn(a_fortnight(0.7), "room"))["wide"]
    assert wide.count('class="d-full"') == 1


def test_many_clutches_stand_as_rows_of_the_table_and_few_as_its_columns() -> None:
    few = a_fortnight(0.7)
    assert nights_ahead.numbers(few, "x").columns == ("night", "Rusk & Tansy", "tanks")
    many = nights_ahead.Nights("x", few.labels, few.rows * 9, few.sums)
    turned = nights_ahead.numbers(many, "x")
    assert turned.columns[:2] == ("clutch", "Mon 23 Nov")
    assert [row[0] for row in turned.rows] == ["Rusk & Tansy"] * 9 + ["tanks"]


def test_a_row_of_another_length_than_the_nights_is_refused() -> None:
    few = a_fortnight(0.7)
    with pytest.raises(ValueError, match="as many nights"):
        nights_ahead.Nights("x", few.labels[:3], few.rows)
