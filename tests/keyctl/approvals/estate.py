"""Two invented buildings at the north site with locks whose turning keys the test names itself.

No pins here: which key turns which core is written down as the engine would have written it.
"""

import itertools
from dataclasses import dataclass
from typing import Any

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals import services
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.proposals import Proposal, as_chosen, proposals_for
from keyctl.cores.models import Core, Turn
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.places.models import Building, BuildingManager, Door, Floor
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system

_number = itertools.count(1)


@dataclass(frozen=True)
class Estate:
    cast: Cast
    system: KeySystem
    floor: Floor
    other_floor: Floor
    cabinet: Cabinet
    holder: Holder

    @property
    def building(self) -> Building:
        return self.floor.building

    def key(self, name: str, *, is_master: bool = False, system: KeySystem | None = None) -> KeySymbol:
        kind = KeySymbol.Kind.MASTER if is_master else KeySymbol.Kind.CHANGE
        return bare_key(system or self.system, name, kind=kind)

    def door(self, *keys: KeySymbol, floor: Floor | None = None, withdraws: bool = False) -> Door:
        """A door whose core each of the keys turns."""
        door = factories.make_door(floor=floor or self.floor)
        core = self.core()
        Turn.objects.bulk_create(
            [Turn(core=core, symbol=key, operates=not withdraws, withdraws=withdraws) for key in keys]
        )
        factories.install(core, factories.make_housing(door=door))
        return door

    def core(self, *, pinned: bool = True) -> Core:
        facts: dict[str, Any] = {"site": self.cast.north, "format_id": "small-a2-7"}
        if pinned:
            facts |= {"pinning": b"x", "pinned_at": timezone.now(), "pinned_by": self.cast.locksmith}
        return Core.objects.create(construction="small-format", **facts)

    def ask(self, *doors: Door, actor: User | None = None, **facts: Any) -> KeyRequest:
        facts.setdefault("holder", self.holder)
        facts.setdefault("reason", "Cleaning.")
        return services.ask_for_key(actor=actor or self.cast.requester, doors=doors, **facts)

    def choose(self, request: KeyRequest, nth: int = 0, actor: User | None = None) -> KeyRequest:
        """The first decision alone."""
        return services.approve_request(
            actor=actor or self.cast.manager,
            request=request,
            version=request.version,
            proposal=proposals_for(request)[nth].key,
        )

    def agree(self, request: KeyRequest, actor: User) -> KeyRequest:
        """A further decision about the keys that were chosen."""
        chosen = as_chosen(request)
        assert chosen is not None
        return services.approve_step(actor=actor, request=request, version=request.version, keys=chosen.key)

    def approve(self, request: KeyRequest, nth: int = 0, actor: User | None = None) -> KeyRequest:
        """Every decision: where a security officer decides after the manager, the cast's does."""
        request = self.choose(request, nth, actor)
        if request.state == KeyRequest.State.ASKED:
            request = self.agree(request, self.cast.officer)
        return request

    def granted(self, key: KeySymbol | None = None) -> Grant:
        """An approved request for one door that one key opens."""
        return self.approve(self.ask(self.door(key or self.key(f"AA{next(_number)}")))).grants.get()

    def stock(self, key: KeySymbol) -> KeyCopy:
        return factories.make_copy(key, self.cabinet)

    def hand_out(self, grant: Grant, copy: KeyCopy | None = None, actor: User | None = None) -> Grant:
        return services.hand_out_grant(
            actor=actor or self.cast.desk,
            grant=grant,
            copy=copy or self.stock(grant.symbol),
            signed_as="Holder One",
        )


def set_up(cast: Cast) -> Estate:
    floor = factories.make_floor(cast.north)
    BuildingManager.objects.create(building=floor.building, user=cast.manager)
    return Estate(
        cast=cast,
        system=bare_system(cast.north, cast.south, actor=cast.administrator),
        floor=floor,
        other_floor=factories.make_floor(cast.north),
        cabinet=factories.make_cabinet(cast.north),
        holder=factories.make_holder(cast.north, name="Holder One"),
    )


def names(proposal: Proposal) -> list[str]:
    return sorted(symbol.symbol for symbol in proposal.symbols)


def post(client: Client, user: User, name: str, pk: Any, **facts: Any) -> Any:
    client.force_login(user)
    return client.post(reverse(f"approvals:{name}", args=[pk]), facts)


def page(client: Client, user: User, name: str, *args: Any) -> str:
    client.force_login(user)
    return client.get(reverse(f"approvals:{name}", args=args)).content.decode()


def statuses(cast: Cast, name: str, pk: Any, method: str = "get", **facts: Any) -> dict[str, int]:
    """What the page says to each of the cast."""
    found = {}
    for person, user in cast.everybody.items():
        client = Client()
        client.force_login(user)
        found[person] = getattr(client, method)(reverse(f"approvals:{name}", args=[pk]), facts).status_code
    return found
