"""What axe-core finds on a page by the rules of WCAG 2.2, levels A and AA.

The library is not ours and shares nothing with the pages; a finding is a sentence that names rule and element.
"""

from axe_playwright_python.sync_playwright import Axe
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
    found = Axe().run(page, options=OPTIONS).response
    return [
        f"{rule['id']}: {node['html'][:160]} ({' '.join(node['failureSummary'].split())[:300]})"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]
