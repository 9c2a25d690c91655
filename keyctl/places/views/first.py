from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.places.finding import page_of


@require_GET
def find_by_tag(request: Request, tag: str) -> HttpResponse:
    """Where the code on a label leads: a door, a core, or whatever else carries it."""
    return redirect(page_of(request.user, tag))


@require_GET
def design(request: Request) -> HttpResponse:
    """Every component of the design system on one page, for whoever builds the next page."""
    return render(request, "design/index.html")
