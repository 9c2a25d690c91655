"""How a page with a form answers: again with what is wrong, or done."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render

from keyctl.accounts.http import Request
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE


def answer(request: Request, template: str, form: ServiceForm, facts: dict[str, Any]) -> HttpResponse:
    status = UNPROCESSABLE if form.errors else 200
    return render(request, template, {"form": form, **facts}, status=status)


def posted(request: Request) -> QueryDict | None:
    """What a form is bound to: what was sent, be it empty, and nothing where the page is only looked at."""
    return request.POST if request.method == "POST" else None


def did(form: ServiceForm, service: Callable[..., Any], **facts: Any) -> Any:
    """What the service gave where the form was sent and nothing stood in the way."""
    return form.attempt(service, **facts) if form.is_bound else None


def ask(request: Request, form: ServiceForm, **words: Any) -> HttpResponse:
    """A page that is nothing but a form: ``title``, ``button``, ``back`` (an address), a ``text``."""
    return answer(request, "keys/form.html", form, words)


def done(request: Request, sentence: str, where: str, *args: Any) -> HttpResponse:
    messages.success(request, sentence)
    return redirect(where, *args)
