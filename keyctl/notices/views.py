"""The mail of one's sites: what waits, what went out, what did not and why."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.notices import access, selectors, services
from keyctl.places.access import administered_site, administered_sites, require_administrator

NOTICES_ON_A_PAGE = 50


@require_GET
def notice_list(request: Request) -> HttpResponse:
    require_administrator(request.user)
    box = selectors.mailbox(request.user, request.GET.get("state", ""))
    context = {
        "box": box,
        "page": Paginator(box.notices, NOTICES_ON_A_PAGE).get_page(request.GET.get("page")),
        "query": f"state={box.state}" if box.state else "",
        "sites": administered_sites(request.user),
    }
    return render(request, "notices/list.html", context)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    notice = access.readable_notice(request.user, pk)
    context = {"notice": notice, "tries": notice.tries.all(), "has_server": selectors.has_server()}
    return render(request, "notices/detail.html", context)


@require_POST
def retry(request: Request, pk: UUID) -> HttpResponse:
    notice = access.readable_notice(request.user, pk)
    services.retry_notice(actor=request.user, notice=notice)
    messages.success(request, _("It is sent with the next round, within about a minute."))
    return redirect("notices:detail", pk)


@require_POST
def test(request: Request, pk: UUID) -> HttpResponse:
    notice = services.send_test(actor=request.user, site=administered_site(request.user, pk))
    messages.success(
        request, _("A test to {to} is written; it is sent within about a minute.").format(to=notice.to)
    )
    return redirect("notices:detail", notice.pk)
