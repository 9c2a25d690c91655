"""How exposed cores are, for the pages of a core and of the estate, which lie below this app."""

from typing import Any

from django import template

from keyctl.cores.models import Core
from keyctl.exposure.access import MAY_SEE, may_see
from keyctl.exposure.pages import core_facts
from keyctl.exposure.wording import short_argument
from keyctl.places.access import has_role
from keyctl.places.models import Site

register = template.Library()


@register.inclusion_tag("exposure/_core_block.html", takes_context=True)
def show_exposure(context: template.Context, core: Core) -> dict[str, Any]:
    """The figures, for those who answer for them; nothing for everybody else."""
    if not core.is_pinned or not may_see(context["request"].user, core):
        return {}
    facts = core_facts(core)
    found = facts["found"]
    return facts | {"core": core, "may_see": True, "argument": short_argument(found) if found else ""}


@register.inclusion_tag("exposure/_site_link.html", takes_context=True)
def link_exposure(context: template.Context, site: Site) -> dict[str, Any]:
    """The way from a site to how exposed its cores are."""
    return {"site": site, "may_see": has_role(context["request"].user, site, *MAY_SEE)}
