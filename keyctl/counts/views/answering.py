"""What the pages of counts share."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from keyctl.accounts.http import Request
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE


def answer(
    request: Request, template: str, facts: dict[str, Any], *forms: ServiceForm | None
) -> HttpResponse:
    wrong = any(form is not None and form.errors for form in forms)
    return render(request, template, facts, status=UNPROCESSABLE if wrong else 200)
