"""The key copies of the invented estate, with two years of hand-outs and returns."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import Subjects, new_event
from keyctl.demo import names
from keyctl.demo.places import BATCH
from keyctl.demo.plan import HISTORY_DAYS, EstatePlan
from keyctl.demo.systems import Keyed
from keyctl.keys.models import Cabinet, Custody, Holder, KeyCopy
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

# Where a copy ends up, with the share of each state.
STATES = {
    KeyCopy.State.HELD: 62,
    KeyCopy.State.IN_CABINET: 33,
    KeyCopy.State.LOST: 3,
    KeyCopy.State.DESTROYED: 2,
}
MASTER_COPIES = 2


@dataclass
class BuiltKeys:
    copies: list[KeyCopy] = field(default_factory=list)
    custodies: list[Custody] = field(default_factory=list)


class Desk:
    """Cuts copies and hands them out and back, as a key desk might have in two years."""

    def __init__(self, clerk: User, holders: dict[UUID, list[Holder]], rng: Random) -> None:
        self.clerk, self.holders, self.rng = clerk, holders, rng
        self.cabinets = {site: Cabinet.objects.create(site_id=site, name="Key room") for site in holders}
        self.built = BuiltKeys()

    def cut(self, symbol: KeySymbol, site: Site) -> None:
        day = timezone.localtime() - timedelta(days=self.rng.randrange(30, HISTORY_DAYS))
        cut_at = day.replace(hour=self.rng.randrange(8, 12), minute=self.rng.randrange(60))
        copy = KeyCopy(symbol=symbol, site=site, cut_at=cut_at)
        copy.state = self.rng.choices(list(STATES), weights=list(STATES.values()))[0]
        self.built.copies.append(copy)
        if copy.state == KeyCopy.State.IN_CABINET:
            copy.cabinet = self.cabinets[site.pk]
            if self.rng.random() < 0.5:
                self._take_back(self._hand_out(copy))
        elif copy.state == KeyCopy.State.HELD:
            custody = self._hand_out(copy)
            copy.holder = custody.holder
            if self.rng.random() < 0.3:
                custody.due_on = timezone.localdate() + timedelta(days=self.rng.randrange(-20, 200))

    def _hand_out(self, copy: KeyCopy) -> Custody:
        holder = self.rng.choice(self.holders[copy.site_id])
        out_at = self._between(copy.cut_at, timezone.now() - timedelta(days=10))
        custody = Custody(
            copy=copy, holder=holder, out_at=out_at, handed_out_by=self.clerk, signed_as=holder.name
        )
        self.built.custodies.append(custody)
        return custody

    def _take_back(self, custody: Custody) -> None:
        custody.ended_at, custody.ended_by = self._between(custody.out_at, timezone.now()), self.clerk

    def _between(self, start: datetime, end: datetime) -> datetime:
        """A moment between the two, in the desk's hours unless the two lie too close."""
        moment = timezone.localtime(start + (end - start) * self.rng.random())
        in_hours = moment.replace(hour=self.rng.randrange(8, 17))
        return in_hours if start <= in_hours <= end else moment


def build_keys(plan: EstatePlan, keyed: list[Keyed], people: dict[Role, User], rng: Random) -> BuiltKeys:
    holders = _holders(plan, list(Site.objects.order_by("code")), people)
    desk = Desk(people[Role.KEY_DESK], holders, rng)
    for symbol, site in _wanted(keyed, plan.copies, rng):
        desk.cut(symbol, site)
    KeyCopy.objects.bulk_create(desk.built.copies, batch_size=BATCH)
    Custody.objects.bulk_create(desk.built.custodies, batch_size=BATCH)
    return desk.built


def key_events(built: BuiltKeys, actor: User) -> Iterator[tuple[Event, Subjects]]:
    for copy in built.copies:
        cut = f"cut copy {copy} of {copy.symbol}"
        yield _event(actor, "key.cut", cut, copy, copy.cut_at), [copy, copy.symbol]
        if copy.state in {KeyCopy.State.LOST, KeyCopy.State.DESTROYED}:
            gone = f"wrote copy {copy} down as {copy.get_state_display().lower()}"
            yield _event(actor, f"key.{copy.state}", gone, copy, timezone.now() - timedelta(days=1)), [copy]
    for custody in built.custodies:
        out = f"handed copy {custody.copy} to {custody.holder}"
        yield (
            _event(actor, "key.handed_out", out, custody.copy, custody.out_at),
            [custody.copy, custody.holder],
        )
        if custody.ended_at:
            back = f"took copy {custody.copy} back from {custody.holder}"
            subjects = [custody.copy, custody.holder]
            yield _event(actor, "key.taken_back", back, custody.copy, custody.ended_at), subjects


def _holders(plan: EstatePlan, sites: list[Site], people: dict[Role, User]) -> dict[UUID, list[Holder]]:
    """Numbered, not named: nobody here exists. The requester of each site holds keys under their own name."""
    made: dict[UUID, list[Holder]] = {site.pk: [] for site in sites}
    requester = people[Role.REQUESTER]
    for number in range(plan.holders):
        site = sites[number % len(sites)]
        own = number < len(sites)
        department = names.HOLDERS[number % len(names.HOLDERS)]
        name = requester.display_name if own else f"{department} holder {number + 1}"
        made[site.pk].append(Holder(site=site, name=name, user=requester if own else None))
    Holder.objects.bulk_create([holder for group in made.values() for holder in group], batch_size=BATCH)
    return made


def _wanted(keyed: list[Keyed], count: int, rng: Random) -> list[tuple[KeySymbol, Site]]:
    """Two copies of each master and control key, one of each door's key, then more of the doors'."""
    doors = [(symbol, housing.door.site) for system in keyed for housing, symbol in system.housings]
    upper = [
        (symbol, rng.choice(list(system.system.sites.all())))
        for system in keyed
        for symbol in system.system.symbols.exclude(kind=KeySymbol.Kind.CHANGE)
        for _ in range(MASTER_COPIES)
    ]
    wanted = upper + doors
    return wanted + [rng.choice(doors) for _ in range(count - len(wanted))]


def _event(actor: User, verb: str, sentence: str, copy: KeyCopy, at: datetime) -> Event:
    return new_event(actor=actor, verb=verb, sentence=sentence, site_id=copy.site_id, at=at)
