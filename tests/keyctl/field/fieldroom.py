"""A house with doors, cores and a tablet, and how a tablet writes what somebody did."""

import itertools
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.engine import load_format
from keyctl.field import services
from keyctl.field.models import Device
from keyctl.field.services import Answer
from keyctl.lib.tags import new_tag
from keyctl.places.models import Housing, Site
from keyctl.vault import services as vault
from tests import factories

FORMAT = "small-a2-7"


def make_core(site: Site, *, by: User, **facts: Any) -> Core:
    """Pinned as far as the register goes: nobody reads these pins."""
    facts.setdefault("place", Core.Place.SHELF)
    pinned = {"pinned_at": timezone.now(), "pinned_by": by}
    construction = load_format(FORMAT).construction
    core = Core(site=site, tag=new_tag(), format_id=FORMAT, construction=construction, **pinned | facts)
    core.pinning = vault.seal(core, "pinning", "Nobody reads this.")
    core.save(force_insert=True)
    return core


def core_in(housing: Housing, *, by: User) -> Core:
    return make_core(housing.door.site, by=by, place=Core.Place.HOUSING, housing=housing)


@dataclass
class Tablet:
    """What the app does: it numbers what it writes, and sends it."""

    person: User
    device: Device | None = None
    sequence: "itertools.count[int]" = field(default_factory=lambda: itertools.count(1))

    def event(self, kind: str, **body: Any) -> dict[str, Any]:
        return {
            "event_id": str(uuid.uuid4()),
            "sequence": next(self.sequence),
            "kind": kind,
            "claimed_at": timezone.now().isoformat(),
            "person": str(self.person.pk),
            "body": body,
        }

    def swapped(
        self, housing: Housing, core: Core, out: Core | None, line: Any = None, **facts: Any
    ) -> dict[str, Any]:
        body = {
            "line": str(line.pk) if line else None,
            "housing": str(housing.pk),
            "core_in": core.tag,
            "core_in_version": core.version,
            "core_out": out.tag if out else "",
            "core_out_version": out.version if out else None,
            "put_at": "shelf",
            "operating_key_turned": True,
            "control_key_came_out": True,
            "egress_and_latch_tried": True,
            "note": "",
        }
        return self.event("swapped", **body | facts)

    def put(self, core: Core, place: str = "bench", **facts: Any) -> dict[str, Any]:
        return self.event("put", **{"core": core.tag, "core_version": core.version, "place": place} | facts)

    def found(self, housing: Housing, core: Core | None) -> dict[str, Any]:
        return self.event("found", housing=str(housing.pk), core=core.tag if core else "")

    def send(self, *events: Any, **facts: Any) -> list[Answer]:
        told: dict[str, Any] = {"actor": self.person, "device": self.device, "via": "tablet"}
        return services.take_batch(**told | {"sent_at": timezone.now()} | facts, events=events)

    def send_late(self, *events: Any, by: timedelta) -> list[Answer]:
        """From a clock that is behind."""
        return self.send(*events, sent_at=timezone.now() - by)


def tablet_of(person: User, site: Site, name: str = "Tablet 1") -> Tablet:
    return Tablet(person, services.register_device(actor=person, site=site, name=name).device)


def outcomes(answers: Sequence[Answer]) -> list[str]:
    return [str(answer.outcome) for answer in answers]


@dataclass
class House:
    """One door with a core in it and another core on the shelf."""

    site: Site
    housing: Housing
    inside: Core
    spare: Core


def build_house(site: Site, *, by: User) -> House:
    housing = factories.make_housing(site)
    return House(site, housing, core_in(housing, by=by), make_core(site, by=by))
