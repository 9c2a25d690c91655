"""How the counter answers: the list as it now is, with what was heard or why not, whole or as a piece."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from keyctl.accounts.http import Request
from keyctl.accounts.models import User
from keyctl.desk import access, selectors
from keyctl.desk.forms import AgreedForm
from keyctl.desk.models import TrayLine
from keyctl.desk.scanning import Heard
from keyctl.keys.models import Handover
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.http import CONFLICT, UNPROCESSABLE
from keyctl.lib.identifiers import read_uuid
from keyctl.places.models import Site

Way = Handover.Way
PAGES = {Way.OUT: "desk:issue", Way.BACK: "desk:return", Way.TRANSFER: "desk:transfer"}
NOTHING = Heard()


@dataclass(frozen=True)
class Place:
    """Who stands at which desk, and what they are doing there."""

    request: Request
    site: Site
    way: Way

    @property
    def actor(self) -> User:
        return self.request.user

    @property
    def facts(self) -> dict[str, Any]:
        return {"actor": self.actor, "site": self.site, "way": self.way}


@dataclass(frozen=True)
class Answer:
    """What the page says of the last act: words, or why not."""

    heard: Heard = NOTHING
    trouble: tuple[str, ...] = ()
    status: int = 200


def place_of(request: Request, pk: UUID) -> Place:
    wanted = request.POST.get("way", "")
    way = Way(wanted) if wanted in Way.values else Way.OUT
    return Place(request, access.desk_site(request.user, pk), way)


def attempt(place: Place, service: Callable[..., Heard], **facts: Any) -> HttpResponse:
    """Do it and show the list: the piece of the page for HTMX, else the whole page anew."""
    try:
        answer = Answer(heard=service(**facts))
    except Refused as refusal:
        answer = refused(refusal)
    if place.request.htmx:
        context = context_of(place, answer) | {"oob": True}
        return render(place.request, "desk/counter.html#tray", context, status=answer.status)
    if answer.trouble or answer.heard.takers or answer.heard.found:
        return page(place, answer)
    messages.info(place.request, answer.heard.words)
    return redirect(PAGES[place.way], place.site.pk)


def refused(refusal: Refused) -> Answer:
    status = CONFLICT if isinstance(refusal, Conflict) else UNPROCESSABLE
    return Answer(trouble=tuple(refusal.sentences), status=status)


def page(place: Place, answer: Answer | None = None, form: AgreedForm | None = None) -> HttpResponse:
    answer = answer or Answer()
    context = context_of(place, answer)
    context["form"] = form or _form(context["counter"], place.site)
    context["done"] = _done(place.request)
    context["to_sign"] = "sign" in place.request.GET
    return render(place.request, "desk/counter.html", context, status=answer.status)


def context_of(place: Place, answer: Answer) -> dict[str, Any]:
    return {
        "site": place.site,
        "way": place.way,
        "sites": access.desk_sites(place.actor),
        "counter": selectors.counter_of(selectors.tray_of(place.actor, place.site, place.way)),
        "answer": answer,
        "heard": answer.heard,
        "cabinets": selectors.cabinets_of(place.site) if answer.heard.found else [],
        "conditions": TrayLine.Condition.choices,
    }


def _form(counter: selectors.Counter, site: Site) -> AgreedForm:
    tray, cabinets = counter.tray, list(selectors.cabinets_of(site)[:2])
    return AgreedForm(
        site=site,
        initial={
            "due": tray.due,
            "due_on": tray.due_at,
            "due_by": tray.due_at and tray.due_at.time(),
            "deposit": None if tray.deposit is None else f"{tray.deposit / 100:.2f}",
            "cabinet": tray.cabinet or (cabinets[0] if len(cabinets) == 1 else None),
            "brought_by": tray.brought_by,
        },
    )


def _done(request: Request) -> Handover | None:
    wanted = read_uuid(request.GET.get("done"))
    return access.readable_act(request.user, wanted) if wanted else None
