"""Which case a core stands in, for the page of the core, which lies below this app."""

from typing import Any

from django import template

from keyctl.cores.models import Core
from keyctl.field.access import CASE_READERS
from keyctl.field.selectors.cases import open_case_of
from keyctl.places.access import has_role

register = template.Library()


@register.inclusion_tag("field/_of_core.html", takes_context=True)
def show_dispute(context: template.Context, core: Core) -> dict[str, Any]:
    if not core.is_disputed:
        return {}
    may_read = has_role(context["request"].user, core.site, *CASE_READERS)
    return {"core": core, "case": open_case_of(core) if may_read else None}
