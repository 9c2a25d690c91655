"""Every GET operation of the published description, with the addresses that exist in an estate.

A new operation without an address here makes the walk fail: it cannot be left out by forgetting it.
"""

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from drf_spectacular.generators import SchemaGenerator

from tests.api.client import ROOT
from tests.api.estate import Estate

# An event is named by its number, everything else by its id.
NAMED = re.compile(r"\{(id|number)\}")


@cache
def description() -> dict[str, Any]:
    """Made once: it takes a second. Nobody changes it."""
    schema: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return schema


def known(estate: Estate) -> dict[str, object]:
    """The id behind each template, by the first word of the path."""
    return {
        "sites": estate.site.pk,
        "buildings": estate.door.building.pk,
        "floors": estate.door.floor.pk,
        "spaces": estate.space.pk,
        "doors": estate.door.pk,
        "housings": estate.housing.pk,
        "cores": estate.core.pk,
        "work-orders": estate.order.pk,
        "key-systems": estate.system.pk,
        "keys": estate.key.pk,
        "cabinets": estate.cabinet.pk,
        "key-copies": estate.copy.pk,
        "holders": estate.holder.pk,
        "requests": estate.request.pk,
        "webhooks": estate.webhook.pk,
        "events": estate.event.pk,
        "changes": "",
        "search": "",
    }


def addresses(estate: Estate) -> Iterator[str]:
    ids = known(estate)
    for template, operations in description()["paths"].items():
        path = template.removeprefix(ROOT)
        if "get" in operations:
            yield NAMED.sub(str(ids[path.split("/")[0]]), path)


def details(estate: Estate) -> list[str]:
    ids = [str(pk) for pk in known(estate).values() if pk]
    return [path for path in addresses(estate) if any(pk in path for pk in ids)]
