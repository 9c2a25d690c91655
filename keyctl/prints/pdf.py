"""HTML to PDF. The printer reads nothing but what it is handed: no file, no network, no address at all."""

from collections.abc import Mapping
from contextlib import redirect_stdout
from functools import cache
from io import StringIO
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _

from keyctl.lib.errors import Refused
from keyctl.lib.texts import without_turning
from keyctl.prints.errors import PrinterMissing
from keyctl.prints.paper import page_rules
from keyctl.prints.press.filling import Finisher, filled

Assets = Mapping[str, tuple[str, bytes]]

# So many elements take about a gigabyte and most of a minute (measured: 10,000 rows of a table).
MOST_ELEMENTS = 50_000
LONGEST_PRINT = 5_000_000

SHEET_CSS = "css/print-sheet.css"
# Universal accessibility (ISO 14289-1).
VARIANT = "pdf/ua-1"


def require_printer() -> Any:
    """WeasyPrint, imported where it is first used: it takes half a second and needs Pango."""
    try:
        # Without Pango it prints a banner of its own before it fails; our sentence says what to do.
        with redirect_stdout(StringIO()):
            import weasyprint
    except OSError:
        raise PrinterMissing from None
    return weasyprint


def render_pdf(html: str, assets: Assets | None = None, *, finisher: Finisher | None = None) -> bytes:
    """The PDF of a whole HTML document, tagged for readers aloud.

    ``assets`` maps an address to its media type and bytes; ``finisher`` is called before the file is written.
    """
    weasyprint = require_printer()
    fetcher = own_assets(assets or {})
    rules = page_rules() + _css_text(SHEET_CSS)
    sheet = weasyprint.CSS(string=rules, url_fetcher=fetcher)
    document = weasyprint.HTML(string=_bounded(html), url_fetcher=fetcher, media_type="print")
    pdf: bytes = document.write_pdf(stylesheets=[sheet], pdf_variant=VARIANT, finisher=finisher or filled(()))
    return pdf


def own_assets(assets: Assets) -> Any:
    """A fetcher that serves these few addresses from memory and refuses every other one."""
    return _fetcher_class()(assets)


def _bounded(html: str) -> str:
    """A print that may be set. Nothing on paper is read in another order than it was typed."""
    if len(html) > LONGEST_PRINT or html.count("<") > 2 * MOST_ELEMENTS:
        raise Refused(_("This is too much for one print. Print it in parts."))
    return without_turning(html)


def _css_text(name: str) -> str:
    return (settings.BASE_DIR / "static" / name).read_text(encoding="utf-8")


@cache
def _fetcher_class() -> Any:
    """The fetcher's class; its parent comes with WeasyPrint, which is not imported before it is needed."""
    require_printer()
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OwnAssets(URLFetcher):  # type: ignore[misc]
        def __init__(self, assets: Assets) -> None:
            super().__init__(allowed_protocols=(), allow_redirects=False)
            self._assets = assets

        def fetch(self, url: str, headers: Any = None) -> Any:  # noqa: ARG002 (the parent's signature)
            if url not in self._assets:
                raise ValueError(f"Refused to fetch {url[:80]!r}: prints read nothing from outside.")
            media_type, body = self._assets[url]
            return URLFetcherResponse(url, body, {"Content-Type": media_type})

    return OwnAssets
