"""The guide that fits the page, for the foot of every page."""

from typing import Any

from django.http import HttpRequest

from keyctl.guides.parts import Guide
from keyctl.guides.shelf import GUIDES

HELPING: dict[str, Guide] = {namespace: guide for guide in GUIDES for namespace in guide.helps}


def guide_here(request: HttpRequest) -> dict[str, Any]:
    found = request.resolver_match
    return {"guide_here": HELPING.get(found.namespace) if found else None}
