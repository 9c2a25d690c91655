"""Too many tries: one clear page, whoever was tried."""

from http import HTTPStatus

from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

CODES = {"too_many_login_attempts", "rate_limited"}


def limited(request: HttpRequest) -> HttpResponse:
    return render(request, "accounts/limited.html", status=HTTPStatus.TOO_MANY_REQUESTS)


def is_limited(form: Form) -> bool:
    return any(error.code in CODES for errors in form.errors.as_data().values() for error in errors)
