"""Counting with a wet thumb: marks on a picture, and figures worked out while they are typed."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.checks import accessibility_violations, sideways_scroll_px
from tests.browser.conftest import IN_THE_DARK, MIDDAY

PICTURE = "/stock-book/pictures/1"


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_touch_sets_a_ring_where_it_touched(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page], script: bool, size: str
) -> None:
    address = hatchery_at(MIDDAY)
    page = open_page(f"{address}{PICTURE}?size=larger", script=script, size=size)
    rings = page.locator("circle.photo-mark")
    before = rings.count()
    picture = page.locator("input[name=tap]")
    picture.click(position={"x": 3, "y": 3})
    expect(rings).to_have_count(before + 1)
    last = rings.last
    assert re.fullmatch(r"0\.\d+%", last.get_attribute("cx") or "")
    page.locator("button[name=undo]").click()
    expect(rings).to_have_count(before)
    assert sideways_scroll_px(page) == 0


def test_figures_are_worked_out_while_they_are_typed(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    address = hatchery_at(MIDDAY)
    page = open_page(address + "/larval-tanks/")
    links = page.eval_on_selector_all("main a[href]", "all => all.map(a => a.href)")
    batch = next(link for link in links if re.search(r"/larval-tanks/\d+$", link))
    page.goto(f"{batch}/count")
    page.locator('label.choice:has([value="aliquots"])').click()
    page.locator('label.tick:has([name="use_recovery"])').click()  # the demo made a trial
    page.fill("[name=counts]", "12, 9, 14, 11, 10")
    page.fill("[name=aliquot_ml]", "5")
    page.fill("[name=total_ml]", "12 L")
    expect(page.locator("[data-worked] .figure")).to_have_text(re.compile(r"^26880 \("))


@pytest.mark.parametrize("moment", [MIDDAY, IN_THE_DARK], ids=["midday", "in the dark"])
@pytest.mark.parametrize("path", [PICTURE, "/stock-book/trials"])
def test_the_pages_of_counting_can_be_used_by_all(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page], moment: str, path: str
) -> None:
    page = open_page(hatchery_at(moment) + path)
    assert accessibility_violations(page) == []
    phone = open_page(hatchery_at(moment) + path, size="phone")
    assert sideways_scroll_px(phone) == 0


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_a_count_and_a_dose_are_worked_out_and_keep_what_was_typed(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page], script: bool
) -> None:
    page = open_page(hatchery_at(MIDDAY) + "/live-food/sums", script=script, size="phone")
    for name, typed, answer in (
        ("count", {"counts": "12 15 9", "dilution": "5"}, "60 per mL"),
        ("dose", {"litres": "60 L", "residual": "0", "target": "0.3 million"}, "913.7 mL"),
    ):
        for field, words in typed.items():
            page.locator(f"#{name} [name={field}]").fill(words)
        if not script:
            page.locator(f"#{name} button").click()
        expect(page.locator(f"#{name} .sum-figure")).to_contain_text(answer)
        for field, words in typed.items():
            expect(page.locator(f"#{name} [name={field}]")).to_have_value(words)
    assert sideways_scroll_px(page) == 0
