"""The long work with a whole system, for the system's page, which lies below this app."""

from typing import Any

from django import template

from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.prints.access import sites_to_export_at
from keyctl.prints.models import Export
from keyctl.systems.models import KeySystem

register = template.Library()


@register.inclusion_tag("prints/_system_work.html", takes_context=True)
def work_with(context: template.Context, system: KeySystem) -> dict[str, Any]:
    """Links to what the person may do, and what is being done."""
    user = context["request"].user
    return {
        "request": context["request"],
        "system": system,
        "may_pin": Site.objects.for_roles(user, Role.LOCKSMITH).filter(key_systems=system).exists(),
        "may_export": any(sites_to_export_at(user, system, kind).exists() for kind in Export.Kind),
    }
