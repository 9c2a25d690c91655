from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from keyctl import engine
from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.cores.access import readable_core, workable_core
from keyctl.cores.drawing import draw
from keyctl.cores.forms import CorrectForm, MoveForm, RevealForm
from keyctl.cores.models import Core
from keyctl.cores.section import Section, draw_section
from keyctl.cores.services import correct_core, move_core, reveal_pinning
from keyctl.lib.errors import Conflict
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role
from keyctl.places.roles import Role
from keyctl.places.selectors import visible_history

EVENTS_SHOWN = 20


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return render(request, "cores/detail.html", _page(request, readable_core(request.user, pk)))


@never_cache
@require_POST
def pinning(request: Request, pk: UUID) -> HttpResponse:
    """The pins of one core, for a locksmith at work on it: a piece of the core's page, or a page alone."""
    core = workable_core(request.user, pk)
    form = RevealForm(request.POST, core=core)
    facts = {"actor": request.user, "core": core, "sign_in": fresh_sign_in(request)}
    pinned = form.attempt(reveal_pinning, **facts)
    drawing = pinned and draw(
        pinned, name=f"p{uuid4().hex[:8]}", title=_("Pins of core {core}").format(core=core)
    )
    section = _section(core, pinned, form.bitting) if pinned and form.bitting else None
    template = "cores/_pinning.html" if request.htmx else "cores/pinning.html"
    context = {"core": core, "reveal": form, "drawing": drawing, "section": section}
    return render(request, template, context, status=200 if pinned else UNPROCESSABLE)


@require_POST
def move(request: Request, pk: UUID) -> HttpResponse:
    core = workable_core(request.user, pk)
    form = MoveForm(request.POST)
    moved = form.attempt(move_core, actor=request.user, core=core)
    if isinstance(form.refusal, Conflict):
        # All but one of those who want a core at the same time: who was first and with what, on a short page.
        raise form.refusal
    if moved is None:
        context = _page(request, core, move=form)
        return render(request, "cores/detail.html", context, status=UNPROCESSABLE)
    messages.success(
        request, _("Core {moved} is now {whereabouts}.").format(moved=moved, whereabouts=moved.whereabouts)
    )
    return redirect("cores:detail", pk=moved.pk)


@require_POST
def correct(request: Request, pk: UUID) -> HttpResponse:
    """Puts right what a new core is keyed to, before it has pins."""
    core = workable_core(request.user, pk)
    form = CorrectForm(request.POST, core=core)
    if not form.attempt(correct_core, actor=request.user, core=core):
        context = _page(request, core, correct=form)
        return render(request, "cores/detail.html", context, status=UNPROCESSABLE)
    messages.success(request, _("Core {core} is keyed as you say.").format(core=core))
    return redirect("cores:detail", pk=pk)


def _section(core: Core, pinned: engine.Pinning, bitting: engine.Bitting) -> Section:
    title = _("Core {core} with the typed key in it").format(core=core)
    return draw_section(pinned, bitting, name=f"k{uuid4().hex[:8]}", title=title)


def _page(request: Request, core: Core, **forms: Any) -> dict[str, Any]:
    in_hand = core.place not in {Core.Place.HOUSING, Core.Place.GONE}
    return {
        "core": core,
        "format": engine.load_format(core.format_id),
        "may_work": has_role(request.user, core.site, Role.LOCKSMITH),
        "may_move": in_hand,
        "may_correct": in_hand and not core.is_pinned,
        "reveal": RevealForm(core=core),
        "move": MoveForm(initial={"version": core.version, "place": core.place}),
        "correct": CorrectForm(core=core),
        "events": visible_history(request.user, core)[:EVENTS_SHOWN],
    } | forms
