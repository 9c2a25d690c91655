"""A bench with work: cores that an order names, a key that another cuts, and people around them."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.services import reveal_pinning
from keyctl.keys.reveal import reveal_key
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import open_cut_order, open_pin_order
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.reveals.models import Limits, Reveal
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast
from tests.signing import proven


@dataclass(frozen=True)
class Bench:
    cast: Cast
    system: KeySystem
    core: Core

    @property
    def smith(self) -> User:
        return self.cast.locksmith

    @property
    def site(self) -> Site:
        return self.cast.north

    def key(self, name: str = "AA1") -> KeySymbol:
        return factories.symbol(self.system, name)

    def order(self, *cores: Core, by: User | None = None) -> WorkOrder:
        facts = {"actor": by or self.smith, "site": self.site, "title": "Bench work"}
        return open_pin_order(cores=cores or [self.core], **facts)  # type: ignore[arg-type]

    def cut_order(self, *names: str) -> WorkOrder:
        return open_cut_order(
            actor=self.smith,
            site=self.site,
            title="Spare keys",
            counts={self.key(name): 1 for name in names},
            cabinet=factories.make_cabinet(self.site),
        )

    def look(self, core: Core | None = None, actor: User | None = None) -> Any:
        actor = actor or self.smith
        return reveal_pinning(actor=actor, core=core or self.core, sign_in=proven(actor))

    def look_at(self, name: str, actor: User | None = None) -> str:
        actor = actor or self.smith
        return reveal_key(actor=actor, symbol=self.key(name), sign_in=proven(actor))

    def second(self) -> User:
        return factories.make_user(site=self.site, role=Role.OFFICER)

    def limit(self, **numbers: int) -> Limits:
        given = {"alone_an_hour": 2, "alone_a_day": 3, "at_work_an_hour": 2, "at_work_a_day": 3} | numbers
        return Limits.objects.update_or_create(site=self.site, defaults=given)[0]


def set_up(cast: Cast) -> Bench:
    system = factories.make_system(cast.north, actor=cast.administrator)
    return Bench(cast, system, factories.make_core(actor=cast.locksmith, site=cast.north, system=system))


def question(bench: Bench, open: Callable[[], Any] = lambda: "seen", **facts: Any) -> Secret[Any]:
    """Something that wants no ground: it only counts."""
    given: dict[str, Any] = {
        "kind": "question",
        "thing": bench.core,
        "words": "what a question answers",
        "sites": (bench.site,),
        "open": open,
        "verb": "test.asked",
        "url": "/",
        "is_question": True,
    }
    return Secret(**given | facts)


def looks_of(user: User) -> int:
    return Reveal.objects.filter(actor=user).count()
