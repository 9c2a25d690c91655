"""Whether a core is in its door for a time, for the page of the core, which lies below this app."""

from typing import Any

from django import template

from keyctl.cores.models import Core
from keyctl.interim.access import MARKERS, READERS
from keyctl.interim.selectors import interim_of
from keyctl.places.access import has_role

register = template.Library()


@register.inclusion_tag("interim/_of_core.html", takes_context=True)
def show_interim(context: template.Context, core: Core) -> dict[str, Any]:
    user = context["request"].user
    if core.housing is None or not has_role(user, core.site, *READERS):
        return {}
    return {"core": core, "interim": interim_of(core), "may_mark": has_role(user, core.site, *MARKERS)}
