"""Losses on the pages of a copy and of a holder, which lie below this app."""

from typing import Any

from django import template

from keyctl.keys.models import Holder, KeyCopy
from keyctl.losses import access

register = template.Library()


@register.inclusion_tag("losses/_of_copy.html", takes_context=True)
def losses_of(context: template.Context, copy: KeyCopy) -> dict[str, Any]:
    """The cases in which the copy was lost, for who reads losses at its site."""
    if not access.reads_losses(context["request"].user, copy.site):
        return {}
    return {"losses": copy.losses.select_related("case").order_by("-lost_at")}


@register.inclusion_tag("losses/_own.html", takes_context=True)
def own_losses(context: template.Context, holder: Holder) -> dict[str, Any]:
    """The way to say that one of one's own keys is lost."""
    actor = context["request"].user
    if holder.user_id != actor.pk:
        return {}
    waiting = access.own_waiting_copies(actor)
    held = KeyCopy.objects.filter(holder=holder, state=KeyCopy.State.HELD)
    return {"rows": [(copy, copy.pk in waiting) for copy in held]}
