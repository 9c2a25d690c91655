"""Who can open what by which key, for the pages of doors and keys, which lie below this app."""

from collections.abc import Sequence
from typing import Any

from django import template

from keyctl.cores.selectors import Opener
from keyctl.keys.reachpicture import door_picture, key_picture
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

register = template.Library()


@register.inclusion_tag("keys/_reach_of_door.html", takes_context=True)
def door_reach(context: template.Context, door: Door, openers: Sequence[Opener]) -> dict[str, Any]:
    return {"door": door, "reach": door_picture(context["request"].user, door, openers), "name": "reach"}


@register.inclusion_tag("keys/_reach_of_key.html", takes_context=True)
def key_reach(context: template.Context, symbol: KeySymbol, door_count: int) -> dict[str, Any]:
    """``door_count`` is of the list on the same page, which goes on where the picture ends."""
    return {
        "symbol": symbol,
        "reach": key_picture(context["request"].user, symbol, door_count),
        "name": "reach",
    }
