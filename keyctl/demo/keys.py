"""The key copies of the invented estate, and who has them; the two years at the desk are in `register.py`."""

from collections.abc import Iterator
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
from keyctl.demo.register import Register
from keyctl.demo.systems import Keyed
from keyctl.keys.models import (
    Cabinet,
    Custody,
    Deposit,
    DeskSettings,
    Handover,
    Holder,
    KeyCopy,
    Person,
    PersonKind,
)
from keyctl.keys.services import publish_terms
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
BROKEN_EVERY = 40
KINDS = {"Contractor": PersonKind.CONTRACTOR, "Teaching": PersonKind.STUDENT}


class Desk:
    """Cuts copies and has them go out and back, as a key desk might have in two years."""

    def __init__(self, register: Register, rng: Random) -> None:
        self.register, self.rng = register, rng
        self.copies: list[KeyCopy] = []
        self.cabinets = _cabinets(register.holders, register.clerk)

    def cut(self, symbol: KeySymbol, site: Site) -> None:
        day = timezone.localtime() - timedelta(days=self.rng.randrange(30, HISTORY_DAYS))
        cut_at = day.replace(hour=self.rng.randrange(8, 12), minute=self.rng.randrange(60))
        copy = KeyCopy(symbol=symbol, site=site, cut_at=cut_at)
        copy.state = self.rng.choices(list(STATES), weights=list(STATES.values()))[0]
        self.copies.append(copy)
        if copy.state == KeyCopy.State.HELD:
            self.register.keep(copy)
        elif copy.state == KeyCopy.State.IN_CABINET:
            self._hang(copy)
        elif copy.state == KeyCopy.State.LOST and self.rng.random() < 0.5:
            self.register.lose(self.register.give(copy))

    def _hang(self, copy: KeyCopy) -> None:
        copy.cabinet = self.rng.choice(self.cabinets[copy.site_id])
        if len(self.copies) % BROKEN_EVERY == 0:
            copy.condition = KeyCopy.Condition.BROKEN
        if self.rng.random() < 0.5:
            self.register.take_back(self.register.give(copy))


def build_keys(plan: EstatePlan, keyed: list[Keyed], people: dict[Role, User], rng: Random) -> Desk:
    sites = list(Site.objects.order_by("code"))
    holders = _holders(plan, sites, people)
    settings = {site.pk: _settings(site, people) for site in sites}
    desk = Desk(Register(people[Role.KEY_DESK], holders, settings, rng), rng)
    for symbol, site in _wanted(keyed, plan.copies, rng):
        desk.cut(symbol, site)
    register = desk.register
    register.number()
    Handover.objects.bulk_create(register.acts, batch_size=BATCH)
    KeyCopy.objects.bulk_create(desk.copies, batch_size=BATCH)
    Custody.objects.bulk_create(register.lines, batch_size=BATCH)
    Deposit.objects.bulk_create(register.deposits, batch_size=BATCH)
    DeskSettings.objects.bulk_update(settings.values(), ["last_number"])
    return desk


def key_events(desk: Desk, actor: User) -> Iterator[tuple[Event, Subjects]]:
    for copy in desk.copies:
        cut = f"cut copy {copy} of {copy.symbol}"
        yield _event(actor, "key.cut", cut, copy, copy.cut_at), [copy, copy.symbol]
        if copy.state in {KeyCopy.State.LOST, KeyCopy.State.DESTROYED}:
            gone = f"wrote copy {copy} down as {copy.get_state_display().lower()}"
            yield _event(actor, f"key.{copy.state}", gone, copy, timezone.now() - timedelta(days=1)), [copy]
        elif copy.is_broken:
            at = timezone.now() - timedelta(days=2)
            yield _event(actor, "key.broken", f"reported copy {copy} broken", copy, at), [copy]
    for line in desk.register.lines:
        out = f"handed out copy {line.copy} of {line.copy.symbol} to {line.holder}"
        yield _event(actor, "key.handed_out", out, line.copy, line.out_at), [line.copy, line.holder]
        if line.back_act and line.ended_at:
            back = f"took copy {line.copy} back from {line.holder}"
            yield (
                _event(actor, "key.taken_back", back, line.copy, line.ended_at),
                [line.copy, line.holder],
            )


def _cabinets(holders: dict[UUID, list[Holder]], clerk: User) -> dict[UUID, list[Cabinet]]:
    """Two a site; somebody answers for each."""
    return {
        site: [
            Cabinet.objects.create(site_id=site, name=name, custodian=clerk)
            for name in ("Key room", "Gate lodge")
        ]
        for site in holders
    }


def _settings(site: Site, people: dict[Role, User]) -> DeskSettings:
    DeskSettings.objects.create(
        site=site,
        student_days=180,
        contractor_hours=10,
        master_deposit=5000,
        top_deposit=10000,
        control_deposit=10000,
    )
    publish_terms(actor=people[Role.ADMINISTRATOR], site=site, text=names.TERMS)
    return DeskSettings.objects.get(site=site)


def _holders(plan: EstatePlan, sites: list[Site], people: dict[Role, User]) -> dict[UUID, list[Holder]]:
    """Numbered, not named: nobody here exists. The requester of each site holds keys under their own name."""
    made: dict[UUID, list[Holder]] = {site.pk: [] for site in sites}
    own = Person(
        display_name=people[Role.REQUESTER].display_name,
        user=people[Role.REQUESTER],
        department=names.HOLDERS[0],
    )
    persons = [own]
    for number in range(plan.holders):
        site = sites[number % len(sites)]
        if number >= len(sites):
            persons.append(_person(number))
        made[site.pk].append(_holder(site, persons[-1] if number >= len(sites) else own))
    Person.objects.bulk_create(persons, batch_size=BATCH)
    Holder.objects.bulk_create([holder for group in made.values() for holder in group], batch_size=BATCH)
    return made


def _person(number: int) -> Person:
    department = names.HOLDERS[number % len(names.HOLDERS)]
    return Person(
        display_name=f"{department} holder {number + 1}",
        external_id=f"demo-{number + 1}",
        department=department,
        kind=KINDS.get(department, PersonKind.STAFF),
    )


def _holder(site: Site, person: Person) -> Holder:
    facts = {"name": person.display_name, "department": person.department, "kind": person.kind}
    return Holder(site=site, person=person, user=person.user, **facts)


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
