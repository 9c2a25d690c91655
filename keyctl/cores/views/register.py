from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.cores.forms import RegisterForm
from keyctl.cores.services import register_core
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role


@require_http_methods(["GET", "POST"])
def register(request: Request) -> HttpResponse:
    """A new core, on the bench and not pinned yet."""
    sites = require_some(Site.objects.for_roles(request.user, Role.LOCKSMITH))
    form = RegisterForm(request.POST or None, sites=sites, initial=request.GET.dict())
    if request.method == "POST":
        core = form.attempt(register_core, actor=request.user)
        if core:
            messages.success(
                request, _("Core {core} is registered. Mark it with its tag, then pin it.").format(core=core)
            )
            return redirect("cores:detail", pk=core.pk)
    return render(
        request, "cores/register.html", {"form": form}, status=UNPROCESSABLE if form.is_bound else 200
    )
