"""What was mailed about a thing, on the thing's own page."""

from typing import Any

from django import template
from django.db.models import Model

from keyctl.notices.selectors import has_server, notices_about

register = template.Library()

SHOWN = 10


@register.inclusion_tag("notices/_about.html")
def mail_about(thing: Model) -> dict[str, Any]:
    """A list of the last messages about a thing and what came of them; nothing where there are none."""
    return {"notices": notices_about(thing)[:SHOWN], "has_server": has_server()}
