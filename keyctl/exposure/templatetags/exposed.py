"""How exposed a core is, for the page of the core, which lies below this app."""

from typing import Any

from django import template

from keyctl.cores.models import Core
from keyctl.exposure.access import may_see
from keyctl.exposure.pages import core_facts
from keyctl.exposure.wording import short_argument

register = template.Library()


@register.inclusion_tag("exposure/_core_block.html", takes_context=True)
def show_exposure(context: template.Context, core: Core) -> dict[str, Any]:
    """The figures, for those who answer for them; nothing for everybody else."""
    if not core.is_pinned or not may_see(context["request"].user, core):
        return {}
    facts = core_facts(core)
    found = facts["found"]
    return facts | {"core": core, "may_see": True, "argument": short_argument(found) if found else ""}
