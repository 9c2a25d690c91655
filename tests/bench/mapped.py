"""The process behind one size of ``bench_maps``: writes a campus, then shows its pictures when asked."""

import time
from typing import Any

from tests.bench.campus_asked import Told, place, written

# By name: the route, what it names, what is asked.
PICTURES = {
    "building, cores": ("maps:building", "building", "?ask=cores"),
    "building, work": ("maps:building", "building", "?ask=work"),
    "floor, cores": ("maps:floor", "floor", "?ask=cores"),
    "floor, exposure": ("maps:floor", "floor", "?ask=exposure"),
    "copy": ("maps:copy", "copy", ""),
    "core": ("maps:core", "core", ""),
    "site, cores": ("maps:site", "site", "?ask=cores"),
    "site, work": ("maps:site", "site", "?ask=work"),
    "site, losses": ("maps:site", "site", "?ask=losses"),
    "site, exposure": ("maps:site", "site", "?ask=exposure"),
    "site, keys by month": ("maps:keys-of-site", "site", ""),
}


def serve(line: Any, doors: int) -> None:
    """What the process does: write, then answer until nobody asks."""
    with place(doors):
        import django

        django.setup()
        from django.db import connection

        viewer = Viewer(written(doors))
        line.send(connection.vendor)
        while (name := line.recv()) is not None:
            line.send(viewer.show(name))
        connection.close()


class Viewer:
    """Somebody with the roles that see every picture, at the largest site."""

    def __init__(self, maker: Any) -> None:
        from django.db import connection
        from django.test import Client

        from keyctl.places.models import Membership, Site
        from keyctl.places.roles import Role

        site = Site.objects.get(code="S0")
        Membership.objects.create(user=maker, site=site, role=Role.OFFICER)
        self.client = Client()
        self.client.force_login(maker)
        self.things = self._things(site)
        # SQLite works in this process: its own time tells no more of what else the machine does.
        self.clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter

    def _things(self, site: Any) -> dict[str, Any]:
        from keyctl.cores.models import Core
        from keyctl.keys.models import KeyCopy

        building = site.buildings.order_by("code").first()
        return {
            "site": site.pk,
            "building": building.pk,
            "floor": building.floors.order_by("level").first().pk,
            "copy": KeyCopy.objects.filter(site=site, state="held").first().pk,  # type: ignore[union-attr]
            "core": Core.objects.filter(site=site).first().pk,  # type: ignore[union-attr]
        }

    def show(self, name: str) -> Told:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext
        from django.urls import reverse

        route, thing, query = PICTURES[name]
        path = reverse(route, args=[self.things[thing]]) + query
        with CaptureQueriesContext(connection) as queries:
            began = self.clock()
            answer = self.client.get(path)
            seconds = self.clock() - began
        if answer.status_code != 200:
            raise ValueError(f"{path}: {answer.status_code}")
        return Told(seconds, len(queries), len(answer.content))
