"""The ways from pages of apps below to the pictures of what they show."""

from typing import Any

from django import template

from keyctl.cores.models import Core
from keyctl.keys.models import KeyCopy
from keyctl.maps.access import may_follow_keys, may_map
from keyctl.places.models import Building, Site
from keyctl.systems.models import KeySystem

register = template.Library()


@register.inclusion_tag("maps/_links.html", takes_context=True)
def link_map(context: template.Context, place: Site | Building) -> dict[str, Any]:
    """The map of a site or a building, for who may look at it."""
    site = place.site if isinstance(place, Building) else place
    user = context["request"].user
    name = "building" if isinstance(place, Building) else "site"
    return {"map": place if may_map(user, site) else None, "map_page": f"maps:{name}"}


@register.inclusion_tag("maps/_links.html", takes_context=True)
def link_keys_over_time(context: template.Context, thing: Site | KeySystem) -> dict[str, Any]:
    """Keys issued and returned, of a site or of a system."""
    user = context["request"].user
    if isinstance(thing, Site):
        return {"keys": thing if may_follow_keys(user, thing) else None, "keys_page": "maps:keys-of-site"}
    may = any(may_follow_keys(user, site) for site in thing.sites.all())
    return {"keys": thing if may else None, "keys_page": "maps:keys-of-system"}


@register.inclusion_tag("maps/_links.html")
def link_story(thing: KeyCopy | Core) -> dict[str, Any]:
    """Where a copy or a core has been; whoever reads its page may."""
    return {"thing": thing, "story_page": "maps:copy" if isinstance(thing, KeyCopy) else "maps:core"}
