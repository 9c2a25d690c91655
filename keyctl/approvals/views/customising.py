"""What holds for requests at a site, and the page that changes it."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.approvals import services
from keyctl.approvals.custom import settings_of
from keyctl.approvals.setting_forms import SettingsForm
from keyctl.approvals.views.detail import status
from keyctl.places.access import administered_site

FIELDS = ("critical_doors", "collect_days", "collect_at", "names_deciders", "cabinet")


@require_http_methods(["GET", "POST"])
def settings(request: Request, pk: UUID) -> HttpResponse:
    site = administered_site(request.user, pk)
    now = settings_of(site)
    form = SettingsForm(
        request.POST or None, site=site, initial={name: getattr(now, name) for name in FIELDS}
    )
    if request.method == "POST":
        done = form.attempt(services.change_settings, actor=request.user, site=site)
        if done:
            messages.success(request, _("This holds for requests at {site} from now on.").format(site=site))
            return redirect("approvals:rules")
    return render(request, "approvals/settings.html", {"site": site, "form": form}, status=status(form))
