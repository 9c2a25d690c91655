"""What axe-core finds on a page by the rules of WCAG 2.2, levels A and AA.

The library is not ours and shares nothing with the pages; a finding names rule and element.
"""

from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
EVERYTHING: dict[str, Any] = {
    "runOnly": {"type": "tag", "values": LEVELS},
    # Of WCAG 2.2, and off unless asked for.
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations"],
}
# What another theme may change.
COLOURS: dict[str, Any] = {
    "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]},
    "resultTypes": ["violations"],
}


def findings(page: Page, options: dict[str, Any] = EVERYTHING) -> list[str]:
    """Of the whole page as it stands, dialogs and fragments that are shown included."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found = page.evaluate("options => axe.run(document, options).then((came) => came.violations)", options)
    return [
        f"{rule['id']}: {node['html'][:160]} ({' '.join(node['failureSummary'].split())[:300]})"
        for rule in found
        for node in rule["nodes"]
    ]
