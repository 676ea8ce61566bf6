"""What every page is held to in the browser: readable by all, and no wider than its screen."""

from pathlib import Path

from playwright.sync_api import Page

AXE = (Path(__file__).parent / "vendor" / "axe-core-4.14.1.min.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

RUN_AXE = """async rules => {
    const found = await axe.run(document, { runOnly: { type: "tag", values: rules } });
    return found.violations.flatMap(broken =>
        broken.nodes.map(node => `${broken.id}: ${broken.help} at ${node.target.join(" ")}`));
}"""


def accessibility_violations(page: Page) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA and good practice, a sentence each."""
    page.wait_for_load_state()  # with its styles, or colours and widths are not its own yet
    # Evaluated, not added as a script: the page's content policy rightly refuses the latter.
    page.evaluate(AXE)
    found: list[str] = page.evaluate(RUN_AXE, RULES)
    return found


def sideways_scroll_px(page: Page) -> int:
    """How many pixels the page is wider than its screen."""
    page.wait_for_load_state()
    wider: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return max(wider, 0)
