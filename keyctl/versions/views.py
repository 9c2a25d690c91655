"""Versions of a system: the list, taking one, and two side by side."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.language import Text
from keyctl.places.models import Site
from keyctl.systems.access import readable_system
from keyctl.systems.models import KeySystem
from keyctl.versions import access, selectors
from keyctl.versions.branches import draw_branches
from keyctl.versions.comparing import Difference
from keyctl.versions.forms import TakeForm
from keyctl.versions.models import SystemVersion
from keyctl.versions.services import TAKERS, take_version

VERSIONS_ON_A_PAGE = 25
ROWS_ON_A_PAGE = 50
NOW = "now"
# What the lists are called on the page, and where the difference keeps them.
LISTS = (
    ("added", gettext_lazy("Keys added"), "added"),
    ("gone", gettext_lazy("Keys gone"), "gone"),
    ("moved", gettext_lazy("Keys moved"), "moved"),
    ("cut-anew", gettext_lazy("Keys cut anew"), "cut_anew"),
    ("keyings", gettext_lazy("Cores keyed differently"), "keyings"),
    ("doors", gettext_lazy("Keys with other doors"), "doors"),
)


@require_GET
def version_list(request: Request, pk: UUID) -> HttpResponse:
    return _list_page(request, readable_system(request.user, pk), TakeForm())


@require_POST
def take(request: Request, pk: UUID) -> HttpResponse:
    system = readable_system(request.user, pk)
    form = TakeForm(request.POST)
    version = form.attempt(take_version, actor=request.user, system=system)
    if version is None:
        return _list_page(request, system, form, status=UNPROCESSABLE)
    messages.success(request, gettext("{version} is kept.").format(version=version))
    return redirect("versions:list", system.pk)


@require_GET
def compare(request: Request, pk: UUID) -> HttpResponse:
    """A version against a later or an earlier one by its number, or against the system as it is now."""
    version = access.readable_version(request.user, pk)
    other = request.GET.get("with") or NOW
    before, after = _in_order(version, None if other == NOW else access.sibling(version, other))
    found = selectors.differences(request.user, before, after)
    chosen = _chosen_list(request, found.difference)
    rows = getattr(found.difference, {name: kept for name, _, kept in LISTS}[chosen])
    context = {
        "system": version.system,
        "before": before,
        "after": after,
        "difference": found.difference,
        "lists": _lists(found.difference),
        "chosen": chosen,
        "other": other,
        "version": version,
        "bars": draw_branches(found.before, found.after, found.difference),
        "page": Paginator(rows, ROWS_ON_A_PAGE).get_page(request.GET.get("page")),
        "query": f"with={other}&list={chosen}",
        "versions": selectors.versions_of(version.system)[:VERSIONS_ON_A_PAGE],
    }
    return render(request, "versions/compare.html", context)


def _in_order(
    version: SystemVersion, other: SystemVersion | None
) -> tuple[SystemVersion, SystemVersion | None]:
    if other is None or version.number <= other.number:
        return version, other
    return other, version


def _lists(difference: Difference) -> list[tuple[str, Text, int]]:
    return [(name, words, len(getattr(difference, kept))) for name, words, kept in LISTS]


def _chosen_list(request: Request, difference: Difference) -> str:
    """The list asked for; without one the first that holds anything."""
    counts = {name: number for name, _, number in _lists(difference)}
    asked = request.GET.get("list", "")
    return asked if asked in counts else next((name for name in counts if counts[name]), LISTS[0][0])


def _list_page(request: Request, system: KeySystem, form: TakeForm, status: int = 200) -> HttpResponse:
    context: dict[str, Any] = {
        "system": system,
        "form": form,
        "may_take": Site.objects.for_roles(request.user, *TAKERS).filter(key_systems=system).exists(),
        "page": Paginator(selectors.versions_of(system), VERSIONS_ON_A_PAGE).get_page(
            request.GET.get("page")
        ),
    }
    return render(request, "versions/list.html", context, status=status)
