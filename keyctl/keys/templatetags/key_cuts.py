"""The offer to show a key's cuts, for the page of the key, which lies below this app."""

from typing import Any

from django import template

from keyctl.keys.forms import RevealForm
from keyctl.keys.reveal import may_reveal
from keyctl.systems.models import KeySymbol

register = template.Library()


@register.inclusion_tag("keys/_cuts_offer.html", takes_context=True)
def offer_cuts(context: template.Context, symbol: KeySymbol) -> dict[str, Any]:
    """The form, for those who may use it; nothing for everybody else."""
    may = may_reveal(context["request"].user, symbol)
    return {
        "symbol": symbol,
        "may_reveal": may,
        "form": RevealForm(),
        "csrf_token": context.get("csrf_token"),
    }
