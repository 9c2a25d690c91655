"""What is done with a whole system and told of it, for the system's page, which lies below this app."""

from typing import Any

from django import template

from keyctl.exposure.access import MAY_SEE
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.prints.access import SYSTEM_KINDS, sites_to_export_at
from keyctl.proofs.access import READERS, visible_proofs
from keyctl.systems.models import KeySystem
from keyctl.systems.selectors import tops_of

register = template.Library()


@register.inclusion_tag("prints/_system_work.html", takes_context=True)
def work_with(context: template.Context, system: KeySystem) -> dict[str, Any]:
    """Links to what the person may do and see of the whole of it, and what is being done."""
    user = context["request"].user
    held = Membership.objects.filter(user=user, site__key_systems=system)
    roles = set(held.values_list("role", flat=True))
    return {
        "request": context["request"],
        "system": system,
        "top": tops_of(system).first(),
        "proof": visible_proofs(user).filter(system=system).first(),
        "may_read_proofs": not roles.isdisjoint(READERS),
        "may_see_exposure": not roles.isdisjoint(MAY_SEE),
        "may_pin": Role.LOCKSMITH in roles,
        "may_export": any(sites_to_export_at(user, system, kind).exists() for kind in SYSTEM_KINDS),
    }
