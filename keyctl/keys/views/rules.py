"""The rules of each site's desk, and the versions of its terms: for administrators."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from keyctl.accounts.http import Request
from keyctl.keys import services
from keyctl.keys.forms import DeskRulesForm, TermsForm
from keyctl.keys.models import DeskSettings, Terms
from keyctl.keys.views.answers import answer, ask, did, done, posted
from keyctl.places.access import administered_site, administered_sites, require_administrator


@require_GET
def rules(request: Request) -> HttpResponse:
    require_administrator(request.user)
    sites = administered_sites(request.user).order_by("code")
    settings = DeskSettings.objects.filter(site__in=sites).select_related("terms")
    by_site = {each.site_id: each for each in settings}
    rows = [(site, by_site.get(site.pk)) for site in sites]
    return render(request, "keys/rules.html", {"rows": rows})


@require_http_methods(["GET", "POST"])
def site_rules(request: Request, pk: UUID) -> HttpResponse:
    site = administered_site(request.user, pk)
    found = DeskSettings.objects.filter(site=site).select_related("terms").first()
    form = DeskRulesForm(posted(request), rules=found or DeskSettings(site=site))
    if did(form, services.change_desk_settings, actor=request.user, site=site):
        return done(
            request,
            _("The desk of {site} goes by these rules now.").format(site=site),
            "keys:site-rules",
            site.pk,
        )
    facts = {
        "site": site,
        "in_force": found.terms if found else None,
        "versions": Terms.objects.filter(site=site).select_related("made_by"),
    }
    return answer(request, "keys/site_rules.html", form, facts)


@require_http_methods(["GET", "POST"])
def new_terms(request: Request, pk: UUID) -> HttpResponse:
    site = administered_site(request.user, pk)
    last = Terms.objects.filter(site=site).first()
    form = TermsForm(posted(request), initial={"text": last.text if last else ""})
    made = did(form, services.publish_terms, actor=request.user, site=site)
    if made:
        return done(request, _("{made} are in force.").format(made=made), "keys:site-rules", site.pk)
    text = _("People sign the new text from now on. What was signed before keeps the text it was signed for.")
    back = reverse("keys:site-rules", args=[site.pk])
    return ask(
        request,
        form,
        title=_("Terms of {site}").format(site=site),
        button=_("Publish the terms"),
        back=back,
        text=text,
    )
