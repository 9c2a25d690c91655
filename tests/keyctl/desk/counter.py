"""A clerk at the counter of the key room, with scans as a browser would send them."""

from dataclasses import dataclass
from typing import Any

from django.test import Client
from django.urls import reverse

from keyctl.desk.models import Tray
from keyctl.keys.models import Handover, KeyCopy
from tests.keyctl.keys.keyroom import KeyRoom

Way = Handover.Way
PAGES = {Way.OUT: "issue", Way.BACK: "return", Way.TRANSFER: "transfer"}
# A plausible scrawl: a few strokes across the field.
STROKES = "M100 300L200 100L300 300L400 120L500 280M600 200L700 210L800 190"


@dataclass
class Counter:
    room: KeyRoom
    client: Client
    way: Way = Way.OUT

    @property
    def tray(self) -> Tray:
        return Tray.objects.get(site=self.room.site, clerk=self.room.desk, way=self.way)

    @property
    def serials(self) -> list[str]:
        return [line.copy.serial for line in self.tray.lines.select_related("copy")]

    def address(self, name: str) -> str:
        return reverse(f"desk:{name}", args=[self.room.site.pk])

    def page(self) -> Any:
        return self.client.get(self.address(PAGES[self.way]))

    def post(self, name: str, **facts: Any) -> Any:
        return self.client.post(self.address(name), {"way": self.way, **facts})

    def scan(self, text: object) -> Any:
        return self.post("add", text=str(text))

    def scan_piece(self, text: object) -> Any:
        """As HTMX asks: the answer is the list alone."""
        facts = {"way": self.way, "text": str(text)}
        return self.client.post(self.address("add"), facts, headers={"HX-Request": "true"})

    def finish(self, **facts: Any) -> Any:
        tray = self.tray
        row = {"version": tray.version, "act_key": tray.act_key, "due": "usual"} | facts
        return self.post("finish", **row)


def words_of(answer: Any) -> str:
    return str(answer.content.decode())


def act_of(copy: KeyCopy) -> Handover:
    copy.refresh_from_db()
    assert copy.custody is not None
    return copy.custody.out_act
