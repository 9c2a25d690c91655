"""A holder: what they have, what is due, what they had; and who receives keys."""

from collections.abc import Callable
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.keys import access, selectors, services
from keyctl.keys.forms import HolderForm, ReasonForm
from keyctl.keys.models import Holder
from keyctl.keys.views.answers import answer, ask, did, done, posted
from keyctl.keys.views.lists import PER_PAGE
from keyctl.places.access import has_role


@require_GET
def holder(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_holder(request.user, pk)
    past = selectors.register_of_holder(found).filter(ended_at__isnull=False)
    reads_keys = access.reads_keys(request.user, found.site)
    facts = {
        "holder": found,
        "held": selectors.open_custodies(found).order_by("due_at", "out_at", "pk"),
        "overdue": selectors.overdue_of(found, timezone.now()),
        "deposits": selectors.deposits_of(found),
        "page": Paginator(past, PER_PAGE).get_page(request.GET.get("page")),
        # Which key a copy is, staff may know; the holder needs only the serial.
        "shows_symbols": reads_keys,
        "events": history_of(found) if reads_keys else None,
        "keeps": has_role(request.user, found.site, *access.HOLDER_KEEPERS),
        "works_the_desk": has_role(request.user, found.site, *access.DESK),
    }
    return render(request, "keys/holder.html", facts)


@require_http_methods(["GET", "POST"])
def new_holder(request: Request, pk: UUID) -> HttpResponse:
    site = access.desk_site(request.user, pk)
    form = HolderForm(posted(request))
    made = did(form, services.register_holder, actor=request.user, site=site)
    if made:
        return done(
            request, _("{made} is registered at {site}.").format(made=made, site=site), "keys:holder", made.pk
        )
    return answer(request, "keys/new_holder.html", form, {"site": site})


@require_http_methods(["GET", "POST"])
def change_holder(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_holder(request.user, pk)
    form = HolderForm(posted(request), holder=found)
    if did(form, services.change_holder, actor=request.user, holder=found):
        return done(
            request, _("What is known of {found} is changed.").format(found=found), "keys:holder", found.pk
        )
    return ask(
        request,
        form,
        title=_("Change {found}").format(found=found),
        button=_("Keep the changes"),
        back=_page(found),
    )


@require_http_methods(["GET", "POST"])
def deactivate(request: Request, pk: UUID) -> HttpResponse:
    text = _("They receive no more keys. What they hold stays written on them, and is called back.")
    words = (_("No more keys for {}"), _("End it"), _("{} receives no more keys."), text)
    return _turn(request, pk, services.deactivate_holder, words)


@require_http_methods(["GET", "POST"])
def reactivate(request: Request, pk: UUID) -> HttpResponse:
    text = _("They receive keys again from now on.")
    words = (_("Keys again for {}"), _("Let them receive keys"), _("{} receives keys again."), text)
    return _turn(request, pk, services.reactivate_holder, words)


def _turn(
    request: Request, pk: UUID, service: Callable[..., Holder], words: tuple[str, str, str, str]
) -> HttpResponse:
    found = access.kept_holder(request.user, pk)
    title, button, said, text = words
    form = ReasonForm(posted(request))
    if did(form, service, actor=request.user, holder=found):
        return done(request, said.format(found), "keys:holder", found.pk)
    return ask(request, form, title=title.format(found), button=button, back=_page(found), text=text)


def _page(found: Holder) -> str:
    return reverse("keys:holder", args=[found.pk])
