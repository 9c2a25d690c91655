"""Cabinets: what hangs in each, who answers for it, and hanging several copies elsewhere."""

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.keys import access, selectors, services
from keyctl.keys.cabinet_marks import marks_of
from keyctl.keys.forms import CustodianForm, MoveForm, NameForm, NewCabinetForm
from keyctl.keys.models import Cabinet
from keyctl.keys.views.answers import ask, did, done, posted
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role
from keyctl.places.models import Site

PER_PAGE = 50


@require_GET
def cabinets(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    found = list(selectors.cabinets(request.user))
    marks = marks_of(found)
    facts = {
        "rows": [(cabinet, marks.get(cabinet.pk)) for cabinet in found],
        "keeping_sites": Site.objects.for_roles(request.user, *access.CABINET_KEEPERS),
    }
    return render(request, "keys/cabinets.html", facts)


@require_GET
def cabinet(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_cabinet(request.user, pk)
    return _cabinet(request, found, MoveForm(source=found))


@require_POST
def move_copies(request: Request, pk: UUID) -> HttpResponse:
    """The copies ticked on the cabinet's page hang in another one."""
    found = access.workable_cabinet(request.user, pk)
    form = MoveForm(request.POST, source=found)
    moved = form.attempt(services.move_copies, actor=request.user)
    if moved:
        count = len(moved)
        said = ngettext("{count} copy hangs elsewhere now.", "{count} copies hang elsewhere now.", count)
        return done(request, said.format(count=count), "keys:cabinet", found.pk)
    return _cabinet(request, found, form)


@require_http_methods(["GET", "POST"])
def new_cabinet(request: Request, pk: UUID) -> HttpResponse:
    site = access.cabinet_site(request.user, pk)
    form = NewCabinetForm(posted(request), site=site)
    made = did(form, services.open_cabinet, actor=request.user, site=site)
    if made:
        return done(request, _("The cabinet {made} is opened.").format(made=made), "keys:cabinet", made.pk)
    back = reverse("keys:cabinets")
    return ask(
        request,
        form,
        title=_("New cabinet at {site}").format(site=site),
        button=_("Open the cabinet"),
        back=back,
    )


@require_http_methods(["GET", "POST"])
def rename_cabinet(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_cabinet(request.user, pk)
    form = NameForm(posted(request), initial={"name": found.name})
    if did(form, services.rename_cabinet, actor=request.user, cabinet=found):
        return done(request, _("The cabinet has another name."), "keys:cabinet", found.pk)
    return ask(
        request,
        form,
        title=_("Another name for {found}").format(found=found),
        button=_("Name it so"),
        back=_page(found),
    )


@require_http_methods(["GET", "POST"])
def change_custodian(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_cabinet(request.user, pk)
    form = CustodianForm(posted(request), site=found.site, initial={"to": found.custodian})
    if did(form, services.change_custodian, actor=request.user, cabinet=found):
        return done(request, _("{found} is in other care.").format(found=found), "keys:cabinet", found.pk)
    text = _("Who takes a cabinet over counts it first: a count is asked for where the site has them.")
    title = _("Who answers for {found}").format(found=found)
    return ask(request, form, title=title, button=_("Give it into their care"), back=_page(found), text=text)


def _cabinet(request: Request, found: Cabinet, form: MoveForm) -> HttpResponse:
    works = has_role(request.user, found.site, *access.DESK)
    facts = {
        "cabinet": found,
        "mark": marks_of([found]).get(found.pk),
        "page": Paginator(selectors.copies_in(found), PER_PAGE).get_page(request.GET.get("page")),
        "form": form,
        "keeps": has_role(request.user, found.site, *access.CABINET_KEEPERS),
        "moves": works and found.site.cabinets.exclude(pk=found.pk).exists(),
        "events": history_of(found),
    }
    status = UNPROCESSABLE if form.errors else 200
    return render(request, "keys/cabinet.html", facts, status=status)


def _page(found: Cabinet) -> str:
    return reverse("keys:cabinet", args=[found.pk])
