"""The first page of the day."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.start.selectors import first_page


@require_GET
def home(request: Request) -> HttpResponse:
    """For each role somebody holds what is asked first, and for everybody what is their own."""
    return render(request, "start/home.html", {"first": first_page(request.user)})
