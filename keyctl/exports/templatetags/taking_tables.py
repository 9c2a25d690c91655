"""Buttons on the page of a list, which lies below this app: take it as a table."""

from typing import Any

from django import template
from django.utils.http import urlencode

from keyctl.exports.tables import TABLES
from keyctl.places.models import Membership

register = template.Library()


@register.inclusion_tag("exports/_take.html", takes_context=True)
def take_as(context: template.Context, *names: str, **narrowed: object) -> dict[str, Any]:
    """For whoever may; narrowed as the page is, or as it says."""
    request = context["request"]
    held = set(Membership.objects.filter(user=request.user).values_list("role", flat=True))
    mine = [TABLES[name] for name in names if held & set(TABLES[name].takers)]
    return {
        "tables": mine,
        "names_holders": any(table.tells_of_people for table in mine),
        "query": urlencode({name: str(word) for name, word in narrowed.items()})
        if narrowed
        else request.GET.urlencode(),
        "csrf_token": context["csrf_token"],
    }


@register.filter
def title_of(name: str) -> str:
    """Of a table that is gone, the name it had."""
    return str(TABLES[name].title) if name in TABLES else name
