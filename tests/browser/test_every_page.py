"""What holds for every page of the navigation, on a desk's screen and on a phone's.

Each hour is walked once on each screen, in one browser context, and the tests ask of what was
seen: a page takes longer to open than to measure.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.checks import accessibility_violations, sideways_scroll_px
from tests.browser.conftest import IN_THE_DARK, MIDDAY, opening

sizes = pytest.mark.parametrize("size", ["desk", "phone"])


@dataclass(frozen=True)
class Seen:
    """A page as it stood before the reader."""

    heading: str
    wider_by_px: int
    violations: list[str]


@pytest.fixture(scope="module", params=[MIDDAY, IN_THE_DARK], ids=["midday", "in the dark"])
def walked(
    request: pytest.FixtureRequest, hatchery_at: Callable[..., str], chromium: Browser
) -> Callable[..., dict[str, Seen]]:
    """What every page that the navigation leads to showed, by its path, Today first."""
    address = hatchery_at(request.param)
    done: dict[tuple[str, bool], dict[str, Seen]] = {}

    def walk(size: str = "desk", *, script: bool = True) -> dict[str, Seen]:
        if (size, script) not in done:
            with opening(chromium) as open_page:
                page = open_page(address + "/", size=size, script=script)
                done[size, script] = dict(pages_of(page, axe=size == "desk" and script))
        return done[size, script]

    return walk


def pages_of(page: Page, *, axe: bool) -> Iterator[tuple[str, Seen]]:
    links = page.eval_on_selector_all("nav a[href]", "all => all.map(a => a.href)")
    paths = dict.fromkeys(urlsplit(link).path for link in links)
    assert len(paths) >= 3, "the navigation leads nowhere"
    home = "{0.scheme}://{0.netloc}".format(urlsplit(page.url))
    for path in paths:
        page.goto(home + path)
        yield (
            path,
            Seen(
                page.locator("h1").inner_text(),
                sideways_scroll_px(page),
                accessibility_violations(page) if axe else [],
            ),
        )


@sizes
def test_no_page_is_wider_than_its_screen(
    walked: Callable[..., dict[str, Seen]], size: str
) -> None:
    wide = {path: seen.wider_by_px for path, seen in walked(size).items() if seen.wider_by_px}
    assert wide == {}


def test_every_page_can_be_read_by_all(walked: Callable[..., dict[str, Seen]]) -> None:
    found = {path: seen.violations for path, seen in walked().items() if seen.violations}
    assert found == {}


def test_every_page_says_the_same_without_script(walked: Callable[..., dict[str, Seen]]) -> None:
    with_script, without = (
        {path: seen.heading for path, seen in walked(script=script).items()}
        for script in (True, False)
    )
    assert without == with_script
