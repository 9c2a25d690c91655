"""Where a person goes after a sign-in or a proof: back to a page of ours, never elsewhere."""

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme


def safe_next(request: HttpRequest, address: str | None = None) -> str:
    """Empty where the address, or the request's own ``next``, leads to another host."""
    wanted = address if address is not None else request.POST.get("next", request.GET.get("next", ""))
    is_ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    # Without either it would be taken for the name of a view, and there is none.
    is_address = wanted.startswith("/") or "://" in wanted
    return wanted if is_ours and is_address else ""
