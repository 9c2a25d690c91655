"""Further keys below a master: looked at with their consequences, then made."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.systems.access import extendable_symbol
from keyctl.systems.forms import ExtendForm
from keyctl.systems.selectors import ancestors
from keyctl.systems.services import extend_system, plan_extension


@require_http_methods(["GET", "POST"])
def extend(request: Request, pk: UUID) -> HttpResponse:
    """The first sending shows the plan; the second, with the plan's mark, makes the keys."""
    parent = extendable_symbol(request.user, pk)
    form = ExtendForm(request.POST or None, parent=parent)
    facts = {"actor": request.user, "parent": parent}
    if "seen" in request.POST and (made := form.attempt(extend_system, seen=request.POST["seen"], **facts)):
        names = ", ".join(key.symbol for key in made)
        said = ngettext("{names} is made below {parent}.", "{names} are made below {parent}.", len(made))
        messages.success(request, said.format(names=names, parent=parent))
        return redirect("systems:children", parent.pk)
    plan = form.attempt(plan_extension, **facts) if form.is_bound and not form.errors else None
    context = {"parent": parent, "above": ancestors(parent)[::-1], "form": form, "plan": plan}
    status = UNPROCESSABLE if form.is_bound and plan is None else 200
    return render(request, "systems/extend.html", context, status=status)
