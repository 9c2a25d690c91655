"""People: looking for them, a person's page, and what is said of one."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.audit.selectors import history_of
from keyctl.directory import access, selectors, services
from keyctl.directory.forms import LeaveForm, PersonForm, RegisterForm, TieForm
from keyctl.directory.models import DirectoryEntry
from keyctl.keys.models import Person
from keyctl.keys.services import register_holder
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE

PER_PAGE = 25


@require_GET
def index(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    text, show = request.GET.get("q", "").strip(), request.GET.get("show", "active")
    show = show if show in selectors.SHOWS else "active"
    page = Paginator(selectors.people(request.user, text, show), PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "text": text,
        "show": show,
        "page": page,
        "rows": selectors.rows(request.user, list(page)),
        "query": urlencode({"show": show, "q": text}),
        "keeps": access.keeps_people(request.user),
    }
    return render(request, partial(request, "directory/list.html", "results"), facts)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_person(request.user, pk))


@require_http_methods(["GET", "POST"])
def new(request: Request) -> HttpResponse:
    access.require_keeper(request.user)
    form = PersonForm(request.POST or None, initial={"kind": "staff"})
    if request.method == "POST":
        source = DirectoryEntry.Source.HAND
        if person := form.attempt(services.add_person, actor=request.user, source=source):
            messages.success(request, _("{person} is written down.").format(person=person))
            return redirect("directory:person", person.pk)
    return render(request, "directory/new.html", {"form": form}, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def change(request: Request, pk: UUID) -> HttpResponse:
    person = access.kept_person(request.user, pk)
    known = {name: getattr(person, name) for name in PersonForm.base_fields}
    form = PersonForm(request.POST or None, initial=known)
    if request.method == "POST":
        changed = form.attempt(services.change_person, actor=request.user, person=person)
        if changed is not None:
            messages.success(request, _("Changed.") if changed else _("Nothing was different."))
            return redirect("directory:person", person.pk)
    facts = {"form": form, "person": person}
    return render(request, "directory/change.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def leave(request: Request, pk: UUID) -> HttpResponse:
    person = access.kept_person(request.user, pk)
    form = LeaveForm(request.POST)
    done = form.attempt(services.deactivate_person, actor=request.user, person=person)
    if done is None:
        return _page(request, person, form)
    level = messages.warning if done.kept_for else messages.success
    level(request, done.words if done.is_news else _("{person} had left already.").format(person=person))
    return redirect("directory:person", pk)


@require_POST
def comeback(request: Request, pk: UUID) -> HttpResponse:
    person = access.kept_person(request.user, pk)
    back = services.reactivate_person(actor=request.user, person=person)
    words = [_("{person} is here again and may receive keys.").format(person=person)]
    if back.closed:
        words.append(_("What they still hold is theirs again; nobody asks for it any more."))
    if back.signs_in:
        words.append(_("They can sign in as before."))
    messages.success(request, " ".join(words))
    return redirect("directory:person", pk)


@require_POST
def register(request: Request, pk: UUID) -> HttpResponse:
    person = access.readable_person(request.user, pk)
    form = RegisterForm(request.POST, actor=request.user, person=person)
    facts = {"name": person.display_name, "email": person.email, "department": person.department}
    made = form.attempt(register_holder, actor=request.user, person=person, kind=person.kind, **facts)
    if made is None:
        return _page(request, person, form)
    messages.success(request, _("{made} receives keys at {site}.").format(made=made, site=made.site))
    return redirect("directory:person", pk)


@require_POST
def tie(request: Request, pk: UUID) -> HttpResponse:
    person = access.kept_person(request.user, pk)
    form = TieForm(request.POST, alike=selectors.alike_holders(request.user, person))
    if form.attempt(services.tie_holder, actor=request.user, person=person) is None:
        return _page(request, person, form)
    messages.success(request, _("Written down: the two are one."))
    return redirect("directory:person", pk)


def _page(request: Request, person: Person, form: ServiceForm | None = None) -> HttpResponse:
    actor, keeps = request.user, access.keeps_people(request.user)
    alike = selectors.alike_holders(actor, person) if keeps else []
    facts: dict[str, Any] = {
        "person": person,
        "entry": DirectoryEntry.objects.filter(person=person).first(),
        "holders": selectors.holders_of(actor, person),
        "held": selectors.keys_of(actor, person),
        "today": timezone.localdate(),
        "cases": selectors.cases_of(actor, person),
        "ended": selectors.ended_sign_in(person),
        "keeps": keeps,
        "form": form,
        "register_form": RegisterForm(actor=actor, person=person),
        "tie_form": TieForm(alike=alike),
        "leave_form": form if isinstance(form, LeaveForm) else LeaveForm(),
        "events": history_of(person),
    }
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "directory/person.html", facts, status=status)
