"""Every GET operation of the published description, with the addresses that exist in an estate.

A new operation without an address here makes the walk fail: it cannot be left out by forgetting it.
"""

from collections.abc import Iterator
from typing import Any

from drf_spectacular.generators import SchemaGenerator

from tests.api.client import ROOT
from tests.api.estate import Estate


def description() -> dict[str, Any]:
    schema: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return schema


def known(estate: Estate) -> dict[str, object]:
    """The id behind each template, by the first word of the path."""
    return {
        "sites": estate.site.pk,
        "buildings": estate.door.building.pk,
        "doors": estate.door.pk,
        "housings": estate.housing.pk,
        "cores": estate.core.pk,
        "work-orders": estate.order.pk,
    }


def addresses(estate: Estate) -> Iterator[str]:
    ids = known(estate)
    for template, operations in description()["paths"].items():
        path = template.removeprefix(ROOT)
        if "get" in operations:
            yield path.replace("{id}", str(ids[path.split("/")[0]]))


def details(estate: Estate) -> list[str]:
    return [path for path in addresses(estate) if any(str(pk) in path for pk in known(estate).values())]
