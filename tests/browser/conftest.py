"""A real browser before a real server: the made-up hatchery at an hour the test chooses.

    def test_after_lights_off_it_opens_at_tonight(hatchery_at, open_page): ...
        page = open_page(hatchery_at("2026-11-24T21:00+00:00") + "/")

Every page is watched: an error in its console, a file it asked for in vain or an address off
this machine fails the test that opened it.
"""

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Request, Response, expect, sync_playwright

from tests.server import served

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
# A moment more is a server more: tests share these.
AFTER_MIDNIGHT = "2026-11-24T00:15+00:00"
MORNING = "2026-11-24T09:10+00:00"
MIDDAY = "2026-11-24T12:30+00:00"
EVENING = "2026-11-24T17:52+00:00"
IN_THE_DARK = "2026-11-24T20:31+00:00"
# How long a page may take to come, and to say what is expected: a busy machine is slow, not wrong.
PATIENCE_MS = 90_000
expect.set_options(timeout=PATIENCE_MS)
SIZES = {"desk": (1280, 800), "phone": (390, 844)}


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The system's Chromium; Playwright downloads none."""
    where = shutil.which("chromium") or shutil.which("chromium-browser")
    if where is None:
        pytest.skip("Chromium is not installed (Debian and Ubuntu: apt install chromium).")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=where, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def hatchery_at(
    chromium: Browser, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[..., str]]:
    """Gives the address of the demo as it stands at a moment ("2026-11-24T21:00+00:00").

    Tests share a server of the same moment and only read from it; one that writes asks for
    its own with `fresh=True`. The demo is loaded once a day, at noon, whichever hour is asked for
    first, and copied, as loading takes seconds.
    """
    root = tmp_path_factory.mktemp("hatcheries")
    shared: dict[str, str] = {}

    def demo_of(moment: str) -> Path:
        folder = root / moment[:10]
        if not folder.exists():
            with served("demo", folder=folder, pretend_now=moment[:10] + MIDDAY[10:]):
                pass
        return folder

    with ExitStack() as running:

        def at(moment: str, *, fresh: bool = False) -> str:
            if moment in shared and not fresh:
                return shared[moment]
            folder = root / f"room-{len(list(root.iterdir()))}"
            shutil.copytree(demo_of(moment), folder)
            address = running.enter_context(served("demo", folder=folder, pretend_now=moment))
            if not fresh:
                shared[moment] = address
            return address

        yield at


@pytest.fixture
def open_page(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Opens an address in a fresh browser context; see `opening`."""
    with opening(chromium) as opened:
        yield opened


@contextmanager
def opening(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Gives a function that opens an address in a fresh browser context of a size.

    `script=False` turns script off; `zone` is the device's time zone, else that of this machine.
    """
    troubles: list[str] = []
    with ExitStack() as contexts:

        def opened(
            address: str, *, size: str = "desk", script: bool = True, zone: str | None = None
        ) -> Page:
            width, height = SIZES[size]
            context = chromium.new_context(
                viewport={"width": width, "height": height},
                java_script_enabled=script,
                has_touch=size == "phone",
                service_workers="block",
                timezone_id=zone,
            )
            contexts.callback(context.close)
            context.set_default_timeout(PATIENCE_MS)
            page = context.new_page()
            _watch(page, troubles)
            page.goto(address)
            return page

        yield opened
    if troubles:
        pytest.fail("The pages ran into trouble:\n" + "\n".join(troubles))


def _watch(page: Page, troubles: list[str]) -> None:
    def asked(request: Request) -> None:
        if not request.url.startswith(("http://127.0.0.1:", "data:", "blob:")):
            troubles.append(f"asked for {request.url}, off this machine")

    def answered(response: Response) -> None:
        # A form refused with its sentences (422) is an answer, and so is a page that is not there.
        if response.status >= 500 or (
            response.status >= 400 and response.request.resource_type != "document"
        ):
            troubles.append(f"{response.status} for {response.url}")

    page.on("request", asked)
    page.on("response", answered)
    page.on("pageerror", lambda error: troubles.append(f"script error: {error}"))
    page.on(
        "console",
        lambda said: (
            troubles.append(said.text)
            if said.type == "error" and "Failed to load resource" not in said.text
            else None
        ),
    )
