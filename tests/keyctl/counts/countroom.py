"""A room with two cabinets and two holders at the north site, and short ways to count them."""

from dataclasses import dataclass
from typing import Any

from keyctl.accounts.models import User
from keyctl.counts import services
from keyctl.counts.models import Count, CountCase, CountRule
from keyctl.keys import services as keys
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system


@dataclass(frozen=True)
class CountRoom:
    cast: Cast
    change: KeySymbol
    master: KeySymbol
    cabinet: Cabinet
    other: Cabinet
    holder: Holder

    @property
    def site(self) -> Site:
        return self.cast.north

    @property
    def desk(self) -> User:
        return self.cast.desk

    def stock(
        self, many: int, symbol: KeySymbol | None = None, cabinet: Cabinet | None = None
    ) -> list[KeyCopy]:
        where = cabinet or self.cabinet
        return [factories.make_copy(symbol or self.change, where) for _ in range(many)]

    def give(self, copy: KeyCopy, holder: Holder | None = None) -> KeyCopy:
        """Issued to a holder; the copy as it then is."""
        facts: dict[str, Any] = {"actor": self.desk, "holder": holder or self.holder, "signed_as": "One"}
        keys.hand_out(copy=copy, **facts)
        return KeyCopy.objects.get(pk=copy.pk)

    def rule(self, subject: str = CountRule.Subject.CABINETS, months: int = 12, **facts: Any) -> CountRule:
        facts.setdefault("retention_days", 365)
        return services.set_rule(
            actor=self.cast.officer, site=self.site, subject=subject, interval_months=months, **facts
        )

    def begin(self, **facts: Any) -> Count:
        if not facts.keys() & {"scope"}:
            facts |= {"scope": "cabinet", "cabinet": self.cabinet}
        facts.setdefault("actor", self.desk)
        return services.start_count(site=self.site, **facts)

    def scan(self, count: Count, *copies: KeyCopy | str) -> None:
        text = "\n".join(copy if isinstance(copy, str) else copy.serial for copy in copies)
        services.scan_keys(actor=self.desk, count=count, text=text)

    def close(self, count: Count) -> Count:
        return services.close_count(actor=self.desk, count=count)

    def found(self, count: Count) -> set[tuple[str, str]]:
        return set(CountCase.objects.filter(count=count).values_list("kind", "serial"))

    def missing(self, symbol: KeySymbol | None = None) -> CountCase:
        """The case of a key that a count did not find."""
        copy = self.stock(1, symbol)[0]
        count = self.close(self.begin())
        return CountCase.objects.get(count=count, copy=copy)


def set_up(cast: Cast) -> CountRoom:
    system = bare_system(cast.north, actor=cast.administrator)
    top = bare_key(system, "AA", kind=KeySymbol.Kind.MASTER)
    return CountRoom(
        cast=cast,
        change=bare_key(system, "AA1"),
        master=top,
        cabinet=factories.make_cabinet(cast.north),
        other=factories.make_cabinet(cast.north),
        holder=factories.make_holder(cast.north),
    )
