"""What an event says, in words for people of one site: what is another site's is not named."""

from collections.abc import Iterable
from uuid import UUID

from keyctl.cores.models import Core
from keyctl.field.parsing import Body, Checked, Found, Noted, Photographed, Put, Swapped, Unreached
from keyctl.field.things import Things
from keyctl.lib.language import english
from keyctl.lib.tags import grouped
from keyctl.places.models import Door, Housing

ELSEWHERE = "a door that is not known here"
WHERE_TO = {
    "shelf": "on the shelf",
    "bench": "on the bench",
    "case": "in their own case",
    "gone": "down as gone",
}
CHECKS = (
    ("operating_key_turned", "the operating key turned"),
    ("control_key_came_out", "the control key came out"),
    ("egress_and_latch_tried", "way out and latch were tried"),
)


def said_of(body: Body, things: Things, site: UUID) -> str:
    """In words that follow the name of whoever tells it."""
    return _Words(things, site).of(body)


def register_of(cores: Iterable[Core], housings: Iterable[Housing]) -> str:
    """What the register says of them, at the moment."""
    held = {core.housing_id: core for core in cores if core.housing_id}
    with english():  # a case keeps it
        said = [f"core {core} is {core.whereabouts}, version {core.version}" for core in cores]
    said += [f"{housing} is empty" for housing in housings if housing.pk not in held]
    return ("; ".join(said) or "nothing of it is known here")[:1000]


class _Words:
    def __init__(self, things: Things, site: UUID) -> None:
        self.things, self.site = things, site

    def of(self, body: Body) -> str:
        if isinstance(body, Swapped):
            return self._swapped(body)
        if isinstance(body, Put):
            return f"put core {grouped(body.core)} {WHERE_TO[body.place]}"
        if isinstance(body, Found):
            found = f"core {grouped(body.core)}" if body.core else "no core"
            return f"found {found} in {self._housing(body.housing)}"
        return self._remark(body)

    def _remark(self, body: Unreached | Checked | Noted | Photographed) -> str:
        if isinstance(body, Unreached):
            return f"could not reach {self._line(body.line)}: {body.reason}"
        if isinstance(body, Checked):
            return f"worked the checklist of {self._line(body.line)}"
        if isinstance(body, Noted):
            return f"noted at {self._door(body.door)}: {body.text}"
        return f"took a photo of {self._door(body.door)}"

    def _swapped(self, body: Swapped) -> str:
        out = f"took out core {grouped(body.core_out)}" if body.core_out else "found none in it"
        tried = [words for name, words in CHECKS if getattr(body, name)]
        return (
            f"put core {grouped(body.core_in)} into {self._housing(body.housing)} and {out}"
            + (f" ({WHERE_TO[body.put_at]})" if body.core_out else "")
            + f"; {', '.join(tried) or 'nothing was tried'}"
            + (f". {body.note}" if body.note else "")
        )

    def _housing(self, pk: UUID) -> str:
        housing = self.things.housings.get(pk)
        return str(housing) if housing and housing.door.site.pk == self.site else ELSEWHERE

    def _door(self, pk: UUID | None) -> str:
        door: Door | None = self.things.doors.get(pk) if pk else None
        return str(door) if door and door.site.pk == self.site else ELSEWHERE

    def _line(self, pk: UUID) -> str:
        line = self.things.lines.get(pk)
        if line is None or line.order.site_id != self.site:
            return "a line that is not known here"
        return f"{line.housing or line.door} ({line})" if line.door_at else str(line)
