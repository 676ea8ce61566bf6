"""What holds for every page of the navigation, on a desk's screen and on a phone's."""

from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

from tests.browser.checks import accessibility_violations, sideways_scroll_px

MIDDAY = "2026-11-24T12:30+00:00"
IN_THE_DARK = "2026-11-24T22:30+00:00"

hours = pytest.mark.parametrize("moment", [MIDDAY, IN_THE_DARK], ids=["midday", "in the dark"])
sizes = pytest.mark.parametrize("size", ["desk", "phone"])


@pytest.fixture
def walk(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> Callable[..., dict[str, Page]]:
    """Opens every page that the navigation leads to, Today first, by its path."""

    def walked(moment: str, **how: object) -> dict[str, Page]:
        address = hatchery_at(moment)
        today = open_page(address + "/", **how)
        links = today.eval_on_selector_all("nav a[href]", "all => all.map(a => a.href)")
        paths = dict.fromkeys(urlsplit(link).path for link in links)
        assert len(paths) >= 3, "the navigation leads nowhere"
        return {path: open_page(address + path, **how) for path in paths}

    return walked


@hours
@sizes
def test_no_page_is_wider_than_its_screen(
    walk: Callable[..., dict[str, Page]], moment: str, size: str
) -> None:
    wide = {path: sideways_scroll_px(page) for path, page in walk(moment, size=size).items()}
    assert {path: px for path, px in wide.items() if px} == {}


@hours
def test_every_page_can_be_read_by_all(walk: Callable[..., dict[str, Page]], moment: str) -> None:
    found = {path: accessibility_violations(page) for path, page in walk(moment).items()}
    assert {path: broken for path, broken in found.items() if broken} == {}


def test_every_page_says_the_same_without_script(
    hatchery_at: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    """One browser context walks them all: each holds connections, of which a server has a limit."""
    address = hatchery_at(MIDDAY)
    said: list[dict[str, str]] = []
    for script in (True, False):
        page = open_page(address + "/", script=script)
        links = page.locator("nav a[href]").all()
        paths = [path for link in links if (path := link.get_attribute("href"))]
        said.append({})
        for path in dict.fromkeys(paths):
            page.goto(address + path)
            said[-1][path] = page.locator("h1").inner_text()
    assert len(said[0]) >= 3
    assert said[0] == said[1]
