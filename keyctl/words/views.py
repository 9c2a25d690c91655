"""The glossary, for everybody who signs in."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.words.ordering import by_letter


@require_GET
def glossary(request: Request) -> HttpResponse:
    return render(request, "words/list.html", {"letters": by_letter()})
