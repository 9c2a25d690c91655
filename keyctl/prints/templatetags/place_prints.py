"""The way from a place to its prints, for pages of apps that lie below this one."""

from typing import Any

from django import template

from keyctl.places.access import has_role
from keyctl.places.models import Building, Site
from keyctl.prints.access import PLAN_TAKERS

register = template.Library()


@register.inclusion_tag("prints/_place_prints.html", takes_context=True)
def link_prints(context: template.Context, site: Site, building: Building | None = None) -> dict[str, Any]:
    """A link for who may take one, with the building chosen."""
    return {
        "site": site,
        "building": building,
        "may_print": has_role(context["request"].user, site, *PLAN_TAKERS),
    }
