"""Words that people type into a case are read by others: no cuts among them."""

import re

from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.lib.errors import Refused


def clean_words(text: str, format_id: str, *, missing: str) -> str:
    """The words without blanks at their ends; refused where there are none, or cuts among them."""
    if not text.strip():
        raise Refused(missing)
    refuse_cuts(text, format_id)
    return text.strip()


def refuse_cuts(text: str, format_id: str) -> None:
    chosen = engine.load_format(format_id)
    sign = f"[{re.escape(chosen.depths)}]"
    further = chosen.positions - 1
    # In one piece or sign by sign; a date such as 2024-11-25 is neither.
    if re.search(rf"(?<!\w){sign}(?:{sign}{{{further}}}|(?:[ ,./-]{sign}){{{further}}})(?!\w)", text):
        raise Refused(
            _(
                "A number with {positions} signs stands in these words and may be read as the cuts of a key. "
                "Leave it out: others read this."
            ).format(positions=chosen.positions)
        )
