"""The key copies of the invented estate, and who has them; the two years at the desk are in `register.py`."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from random import Random

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.services import Subjects, new_event, record_many
from keyctl.cores.models import Keying
from keyctl.demo import names, people
from keyctl.demo.places import BATCH
from keyctl.demo.plan import HISTORY_DAYS, Build
from keyctl.demo.register import Register
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
from keyctl.lib.language import in_sentence
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

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
    """Cuts copies of a site and has them go out and back, as its key desk might have in two years."""

    def __init__(self, site: Site, register: Register, cabinets: list[Cabinet], rng: Random) -> None:
        self.site, self.register, self.cabinets, self.rng = site, register, cabinets, rng
        self.today = register.today
        # Each with the cabinet that it hangs in when it is back.
        self.copies: list[tuple[KeyCopy, Cabinet]] = []

    def cut(self, symbol: KeySymbol) -> None:
        day = self.today - timedelta(days=self.rng.randrange(30, HISTORY_DAYS))
        cut_at = day.replace(hour=self.rng.randrange(8, 12), minute=self.rng.randrange(60))
        copy = KeyCopy(serial=names.tag(self.rng), symbol=symbol, site=self.site, cut_at=cut_at)
        copy.state = self.rng.choices(list(STATES), weights=list(STATES.values()))[0]
        hook = self.rng.choice(self.cabinets)
        self.copies.append((copy, hook))
        if copy.state == KeyCopy.State.HELD:
            self.register.keep(copy)
        elif copy.state == KeyCopy.State.LOST:
            self._lose(copy)
        else:
            self.register.lend(copy, is_out=False)
        if copy.state == KeyCopy.State.IN_CABINET:
            copy.cabinet = hook
            if len(self.copies) % BROKEN_EVERY == 0:
                copy.condition = KeyCopy.Condition.BROKEN

    def _lose(self, copy: KeyCopy) -> None:
        """By a holder, or nobody knows how."""
        line = self.register.lend(copy, is_out=self.rng.random() < 0.5)
        if line:
            self.register.lose(line)

    def store(self) -> None:
        self.register.number()
        Handover.objects.bulk_create(self.register.acts, batch_size=BATCH)
        KeyCopy.objects.bulk_create([copy for copy, _ in self.copies], batch_size=BATCH)
        Custody.objects.bulk_create(self.register.lines, batch_size=BATCH)
        Deposit.objects.bulk_create(self.register.deposits, batch_size=BATCH)
        self.register.settings.save(update_fields=["last_number"])


def build_keys(build: Build, number: int) -> None:
    """A site's holders, its desk, the keys cut there, and its two years of history."""
    rng, by_role = build.chance(f"keys {number}"), people.made_people()
    site = Site.objects.order_by("code")[number]
    clerk = by_role[Role.KEY_DESK]
    settings = _settings(site, by_role)
    register = Register(clerk, _holders(build, number, site), settings, build, rng)
    desk = Desk(site, register, _cabinets(site, clerk), rng)
    for symbol in _wanted(build, number, site):
        desk.cut(symbol)
    desk.store()
    record_many(sorted(key_events(desk, clerk), key=lambda pair: pair[0].at))


def key_events(desk: Desk, actor: User) -> Iterator[tuple[Event, Subjects]]:
    hooks = {copy.pk: hook for copy, hook in desk.copies}
    for copy, hook in desk.copies:
        cut = f"cut copy {copy} of {copy.symbol}"
        yield _event(actor, "key.cut", cut, copy, copy.cut_at), [copy, copy.symbol, hook]
        yield from _bad_ends(copy, actor, desk.today)
    for line in desk.register.lines:
        out = f"handed out copy {line.copy} of {line.copy.symbol} to {line.holder}"
        yield _event(actor, "key.handed_out", out, line.copy, line.out_at), [line.copy, line.holder]
        if line.back_act and line.ended_at:
            hook = hooks[line.copy.pk]
            back = f"took copy {line.copy} of {line.copy.symbol} back from {line.holder} into {hook}"
            things = [line.copy, line.holder, hook]
            yield _event(actor, "key.taken_back", back, line.copy, line.ended_at), things


def _bad_ends(copy: KeyCopy, actor: User, today: datetime) -> Iterator[tuple[Event, Subjects]]:
    if copy.state in {KeyCopy.State.LOST, KeyCopy.State.DESTROYED}:
        gone = f"wrote copy {copy} down as {in_sentence(copy.get_state_display())}"
        yield _event(actor, f"key.{copy.state}", gone, copy, today - timedelta(days=1)), [copy]
    elif copy.is_broken:
        at = today - timedelta(days=2)
        yield _event(actor, "key.broken", f"reported copy {copy} broken", copy, at), [copy]


def _cabinets(site: Site, clerk: User) -> list[Cabinet]:
    """Two a site; somebody answers for each."""
    return [
        Cabinet.objects.create(site=site, name=name, custodian=clerk) for name in ("Key room", "Gate lodge")
    ]


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


def own_person() -> Person:
    """The requester holds keys at each site, under their own name."""
    requester = people.made_people()[Role.REQUESTER]
    return Person.objects.create(
        display_name=requester.display_name, user=requester, department=names.HOLDERS[0]
    )


def _holders(build: Build, number: int, site: Site) -> list[Holder]:
    """Numbered, not named: nobody here exists."""
    own = Person.objects.get(user__username=Role.REQUESTER.value)
    sites = build.plan.sites
    persons = [_person(nth) for nth in range(number + sites, build.plan.holders, sites)]
    Person.objects.bulk_create(persons, batch_size=BATCH)
    return Holder.objects.bulk_create([_holder(site, person) for person in (own, *persons)], batch_size=BATCH)


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


def _wanted(build: Build, number: int, site: Site) -> list[KeySymbol]:
    """Two copies of each master and control key, one of each door's key, then more of the doors'."""
    keyings = Keying.objects.filter(core__housing__door__floor__building__site=site)
    door = "core__housing__door__"
    places = (f"{door}floor__building__code", f"{door}floor__level", f"{door}number")
    # A door has several cores, and some cores several keys: two builds deal the copies out alike.
    rows = keyings.select_related("symbol__system").order_by(*places, "core__tag", "symbol__symbol")
    doors = [keying.symbol for keying in rows]
    upper = list(_masters_at(build, site))
    rng = build.chance(f"more keys {number}")
    more = build.plan.copies_at(number) - len(upper) - len(doors)
    return upper + doors + [rng.choice(doors) for _ in range(more)]


def _masters_at(build: Build, site: Site) -> Iterator[KeySymbol]:
    """Each copy of a master lies at one of the sites of its system."""
    for system in KeySystem.objects.filter(sites=site).order_by("code"):
        rng = build.chance(f"masters of {system.code}")
        sites = list(system.sites.order_by("code"))
        upper = system.symbols.exclude(kind=KeySymbol.Kind.CHANGE).order_by("symbol")
        for symbol in upper.select_related("system"):
            for _ in range(MASTER_COPIES):
                if rng.choice(sites) == site:
                    yield symbol


def _event(actor: User, verb: str, sentence: str, copy: KeyCopy, at: datetime) -> Event:
    return new_event(actor=actor, verb=verb, sentence=sentence, site_id=copy.site_id, at=at)
