"""The way from a line of history to the page of its proof, for whoever may read that page."""

from typing import Any

from django import template
from django.template import Context
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.operations.history.access import sites_read

register = template.Library()


@register.simple_tag(takes_context=True)
def proof_page(context: Context, event: Event) -> str:
    """Its address; empty where the reader may not follow it, or there is none, as in a mail."""
    request = getattr(context, "request", None)
    if request is None or not request.user.is_authenticated:
        return ""
    return reverse("history:event", args=[event.pk]) if event.site_id in _sites(request) else ""


def _sites(request: Any) -> Any:
    """Asked once for a page."""
    if not hasattr(request, "sites_of_history"):
        request.sites_of_history = sites_read(request.user)
    return request.sites_of_history
