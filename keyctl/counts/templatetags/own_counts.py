"""What waits of counts for a person, on their own account's page, which lies below this app."""

from typing import Any

from django import template

from keyctl.counts import access

register = template.Library()


@register.inclusion_tag("counts/_own.html", takes_context=True)
def own_counts(context: template.Context) -> dict[str, Any]:
    """The way to say which of one's own keys one has, while a count of them is open."""
    return {"waiting": access.own_counts(context["request"].user).order_by("due_on", "number")}
