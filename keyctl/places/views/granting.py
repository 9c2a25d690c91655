"""Sites, and further roles for people who sign in already; for administrators."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places import access, services
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.places.views.writing import people_page, places_page
from keyctl.places.writing import RoleChoice, RoleForm, SiteForm


@require_POST
def new_site(request: Request) -> HttpResponse:
    access.require_administrator(request.user)
    form = SiteForm(request.POST, auto_id="site_%s")
    if made := form.attempt(services.open_site, actor=request.user):
        messages.success(request, _("{site} is there, and you administer it.").format(site=made))
        return redirect("places:list")
    context = places_page(request) | {"site_form": form}
    return render(request, "places/list.html", context, status=UNPROCESSABLE)


@require_POST
def give_role(request: Request) -> HttpResponse:
    access.require_administrator(request.user)
    form = RoleForm(request.POST, sites=access.administered_sites(request.user), auto_id="role_%s")
    if given := form.attempt(services.give_role, actor=request.user):
        messages.success(request, f"{given}.")
        return redirect("places:people")
    context = people_page(request) | {"role_form": form}
    return render(request, "places/people.html", context, status=UNPROCESSABLE)


@require_POST
def end_role(request: Request) -> HttpResponse:
    """Programs keep theirs: their tokens end on pages of their own."""
    access.require_administrator(request.user)
    form = RoleChoice(request.POST)
    chosen = form.cleaned_data["membership"] if form.is_valid() else None
    people = Membership.objects.exclude(role=Role.INTEGRATION).select_related("user", "site")
    kept = people.filter(site__in=access.administered_sites(request.user))
    membership = get_object_or_404(kept, pk=chosen)
    told = str(membership)
    try:
        services.end_role(actor=request.user, membership=membership)
    except Refused as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("No longer: {role}.").format(role=told))
    return redirect("places:people")
