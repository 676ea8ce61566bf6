"""The main job in a real browser, as a keeper does it: taps first, script or not."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.checks import accessibility_violations, sideways_scroll_px
from tests.browser.conftest import AFTER_MIDNIGHT, EVENING, IN_THE_DARK, MORNING


def test_a_spawn_takes_three_taps_and_no_typing(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    page = open_page(hatchery_at(EVENING, fresh=True) + "/", size="phone")
    page.get_by_role("link", name="Laid").first.click()
    page.locator("a.tap-line").first.click()
    page.get_by_role("button", name="Laid just now").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Clutch")
    expect(page.locator("body")).to_contain_text("most likely")
    expect(page.locator("body")).to_contain_text("from this pair")
    assert sideways_scroll_px(page) == 0


@pytest.mark.parametrize("script", [True, False], ids=["script on", "script off"])
def test_a_form_refused_keeps_what_was_typed(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page], script: bool
) -> None:
    page = open_page(hatchery_at(EVENING) + "/spawns/", size="phone", script=script)
    page.locator("a.tap-line").first.click()
    page.get_by_text("Another time, or more").click()
    page.get_by_text("Between two looks").click()
    page.get_by_label("After (last looked)").fill("2026-11-24")
    page.get_by_label("Before (found)").fill("2026-11-23")
    page.get_by_text("Eggs, surface, note").click()
    page.get_by_label("On what").fill("blue pot")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".refused").first).to_contain_text("before the earlier one")
    expect(page.get_by_label("On what")).to_have_value("blue pot")


def test_on_a_phone_today_is_a_list_to_work_through_and_all_else_is_a_tap_away(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    """Without script too: the answers, the round's work, and four folds; a desk sees all open."""
    address = hatchery_at(EVENING)
    for script in (True, False):
        phone = open_page(address + "/", size="phone", script=script)
        assert phone.evaluate("document.documentElement.scrollHeight") < 4200
        expect(phone.locator("#nights")).to_be_hidden()
        phone.locator('a[href="#nights"]').click()
        expect(phone.locator("#nights")).to_be_visible()
        phone.locator("summary", has_text="Food").click()
        expect(phone.get_by_role("link", name="Food ahead")).to_be_visible()
        desk = open_page(address + "/", script=script)
        expect(desk.locator("#nights")).to_be_visible()
        expect(desk.get_by_role("link", name="Food ahead")).to_be_visible()


def test_the_whole_day_goes_on_one_sheet_of_paper(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    """Both sides of it, for a room of thirty tanks."""
    page = open_page(hatchery_at(EVENING) + "/")
    page.get_by_role("link", name="The day on paper").click()
    expect(page.get_by_role("heading", name="Before lights off")).to_be_visible()
    printed = page.pdf(format="A4")
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 2


def test_after_lights_off_it_opens_at_tonight_in_red(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    page = open_page(hatchery_at(IN_THE_DARK) + "/", size="phone")
    expect(page.locator("html")).to_have_class(re.compile("night"))
    for answer in ("Nothing yet", "Hatching", "Pulled", "Gone"):
        button = page.locator(".answers .button", has_text=answer)
        expect(button).to_be_visible()
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 64


def test_after_midnight_it_is_still_the_night_before(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    page = open_page(hatchery_at(AFTER_MIDNIGHT) + "/tonight")
    expect(page.locator("body")).to_contain_text("night of Mon 23 Nov")


def test_an_owner_in_another_time_zone_sees_both_clocks(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    """C10. The room's clock counts; the device's own stands beside it where it differs."""
    address = hatchery_at(EVENING)
    away = open_page(address + "/", zone="America/Los_Angeles")
    expect(away.locator(".head-clock")).to_contain_text("with you")
    room = away.locator(".head-clock b").inner_text()
    hours = int(away.locator(".head-clock-own").inner_text().split()[-1].split(":")[0])
    assert (int(room.split(":")[0]) - hours) % 24 == 8
    at_home = open_page(address + "/", zone="Europe/Lisbon")
    expect(at_home.locator(".head-clock")).to_contain_text("room time")
    expect(at_home.locator(".head-clock")).not_to_contain_text("with you")


def test_an_answer_in_the_dark_is_saved_at_once_and_can_be_undone(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    page = open_page(hatchery_at(IN_THE_DARK, fresh=True) + "/tonight")
    nothing_yet = page.get_by_role("button", name=re.compile("^Nothing yet"))
    undo = page.get_by_role("button", name=re.compile("^Undo last"))
    nothing_yet.click()
    undo.click()
    expect(undo).to_have_count(0)  # the page answered; the one before still shows its buttons
    expect(nothing_yet).to_be_visible()

    # The wifi drops: a browser's own page would be white. All is kept, and sent once it is back.
    page.context.set_offline(True)
    nothing_yet.click()
    expect(page.get_by_role("alert")).to_contain_text("nothing is lost")
    assert "Undo last" not in page.locator("main").inner_text()
    page.context.set_offline(False)
    page.get_by_role("button", name="Try again").click()
    expect(page.locator("main")).to_contain_text("Undo last")


@pytest.mark.parametrize("moment", [EVENING, IN_THE_DARK], ids=["by day", "in red"])
@pytest.mark.parametrize(
    ("listed", "leads_in"),
    [
        ("/tonight", ""),
        ("/clutches/", "article.clutch h3 a"),
        ("/spawns/", "a.tap-line"),
        ("/larval-tanks/", "a:has-text('14 dph')"),
    ],
)
def test_the_pages_of_the_night_are_open_to_everybody(
    hatchery_at: Callable[..., str],
    open_page: Callable[..., Page],
    moment: str,
    listed: str,
    leads_in: str,
) -> None:
    """WCAG 2.2 AA by axe-core, on the pages used with wet hands that no menu leads to."""
    page = open_page(hatchery_at(moment) + listed)
    if leads_in:
        page.locator(leads_in).first.click()
        page.wait_for_url(lambda url: not url.endswith(listed))
    assert accessibility_violations(page) == []


def test_the_morning_after_a_hatch_larvae_go_in_settled_ones_move_on_and_a_count_is_put_right(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    """One keeper's morning on a phone, from Today to a cohort, with what is asked on the way."""
    room = hatchery_at(MORNING, fresh=True)
    page = open_page(room + "/", size="phone")
    _the_next_line_stays_under_the_finger(page)
    page.goto(room + "/tanks/")
    page.get_by_role("link", name=re.compile("^L8")).first.click()
    page.get_by_role("button", name="filled and matched").click()
    expect(page.locator("main")).to_contain_text("filled and matched · since")

    page.goto(room + "/")
    page.get_by_role("link", name="Say").first.click()
    _pick(page, "Tank", "L8 · 40 L")
    page.get_by_label("How many").first.fill("about 90")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("L8")
    expect(page.locator("main")).to_contain_text("about 90")

    page.goto(room + "/larval-tanks/")
    page.get_by_role("link", name=re.compile("settled")).first.click()
    page.get_by_role("link", name="To grow-out").click()
    _pick(page, "Into", "G5 · 150 L")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Yes, they are in it").click()  # G5 was last seen empty and dirty
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Cohort")

    page.goto(room + "/records")
    page.get_by_role("link", name=re.compile("about 90")).first.click()
    page.get_by_role("link", name="Correct").click()
    page.get_by_label("How many").fill("96")
    page.get_by_role("button", name="Correct").click()
    expect(page.locator("main")).to_contain_text("What it said before stays readable here")


def _the_next_line_stays_under_the_finger(page: Page) -> None:
    """After a tap in the fold of the stops further on."""
    page.locator("#further > summary").click()
    job = page.locator("#further .job:has(input[name=line])").first
    line = page.locator(f'[id="{job.locator("input[name=line]").get_attribute("value")}"]')
    job.get_by_role("button", name="Done").scroll_into_view_if_needed()
    before = line.bounding_box()
    job.get_by_role("button", name="Done").click()
    page.wait_for_url("**#*")
    page.wait_for_load_state()
    expect(line).to_be_in_viewport()
    assert before
    # It is put there once the page is drawn: waited for, as that comes after the page has loaded.
    page.wait_for_function(
        "([id, y]) => Math.abs(document.getElementById(id).getBoundingClientRect().y - y) < 150",
        arg=[line.get_attribute("id"), before["y"]],
    )


def _pick(page: Page, label: str, tank: str) -> None:
    """Pick a tank in a list that says behind it what lives there."""
    field = page.get_by_label(label).first
    field.select_option(field.locator("option", has_text=tank).get_attribute("value"))
