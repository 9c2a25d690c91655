"""Requests as the views see them: signed in (LoginRequiredMiddleware sees to it), with HTMX's details."""

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from keyctl.accounts.models import User


class Request(HttpRequest):
    user: User
    htmx: HtmxDetails


def partial(request: Request, template: str, name: str) -> str:
    """The page, or only its named part where HTMX asks for a piece of a page it already shows."""
    return f"{template}#{name}" if request.htmx and not request.htmx.boosted else template
