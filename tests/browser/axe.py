"""What axe-core finds on a page by the rules of WCAG 2.2, levels A and AA.

The library is not ours and shares nothing with the pages; a finding names rule and element.
"""

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
OPTIONS = {
    "runOnly": {"type": "tag", "values": LEVELS},
    # Of WCAG 2.2, and off unless asked for.
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations"],
}


def findings(page: Page) -> list[str]:
    """Of the whole page as it stands, dialogs and fragments that are shown included."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found = page.evaluate("options => axe.run(document, options).then((came) => came.violations)", OPTIONS)
    return [
        f"{rule['id']}: {node['html'][:160]} ({' '.join(node['failureSummary'].split())[:300]})"
        for rule in found
        for node in rule["nodes"]
    ]
