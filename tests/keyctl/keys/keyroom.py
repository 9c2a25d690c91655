"""A key room at the north site: a bare key system (no pins are looked at), a cabinet and a holder.

Systems, holders and cabinets are invented.
"""

import itertools
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.keys import services
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast

_number = itertools.count(1)

Answers = dict[str, int]


@dataclass(frozen=True)
class KeyRoom:
    cast: Cast
    symbol: KeySymbol
    cabinet: Cabinet
    holder: Holder

    @property
    def desk(self) -> User:
        return self.cast.desk

    @property
    def site(self) -> Site:
        return self.cast.north

    def in_stock(self) -> KeyCopy:
        return factories.make_copy(self.symbol, self.cabinet)

    def held(self) -> KeyCopy:
        return self.give(self.in_stock())

    def lost(self) -> KeyCopy:
        return services.report_lost(actor=self.desk, copy=self.in_stock(), note="Left on a bench.")

    def destroyed(self) -> KeyCopy:
        return services.destroy_copy(actor=self.desk, copy=self.in_stock(), reason="Worn out.")

    def broken(self) -> KeyCopy:
        return services.report_broken(actor=self.desk, copy=self.in_stock(), note="Bent.")

    def take_back(self, copy: KeyCopy) -> KeyCopy:
        return services.take_back(actor=self.desk, copy=copy, cabinet=self.cabinet)

    def give(self, copy: KeyCopy, holder: Holder | None = None, **facts: Any) -> KeyCopy:
        facts.setdefault("signed_as", "Holder One")
        return services.hand_out(actor=self.desk, copy=copy, holder=holder or self.holder, **facts).copy


def bare_system(*sites: Site, actor: User) -> KeySystem:
    code = f"BARE{next(_number)}"
    system = KeySystem.objects.create(
        code=code,
        name=f"System {code}",
        format_id="small-a2-7",
        keyway="W1",
        levels=2,
        design=b"",
        created_by=actor,
    )
    system.sites.set(sites)
    return system


def bare_key(
    system: KeySystem, name: str, *, kind: KeySymbol.Kind = KeySymbol.Kind.CHANGE, level: int | None = 0
) -> KeySymbol:
    return KeySymbol.objects.create(
        system=system, symbol=name, kind=kind, level=level, bitting=b"", fingerprint=f"{next(_number):064}"
    )


def set_up(cast: Cast) -> KeyRoom:
    system = bare_system(cast.north, actor=cast.administrator)
    return KeyRoom(
        cast=cast,
        symbol=bare_key(system, "AA1"),
        cabinet=factories.make_cabinet(cast.north),
        holder=factories.make_holder(cast.north),
    )


def answers(cast: Cast, name: str, pk: Any) -> Answers:
    """What the page's GET says to each of the cast."""
    found = {}
    for person, user in cast.everybody.items():
        client = Client()
        client.force_login(user)
        found[person] = client.get(reverse(name, args=[pk])).status_code
    return found


def allowed(*names: str) -> Answers:
    """The named ones are let in, the rest of the site is forbidden, and the stranger finds nothing."""
    people = ["locksmith", "desk", "manager", "officer", "auditor", "requester", "administrator"]
    return {name: 200 if name in names else 403 for name in people} | {"stranger": 404}


def sign_in(client: Client, user: User) -> Client:
    client.force_login(user)
    return client


def count_queries(client: Client, page: str) -> int:
    with CaptureQueriesContext(connection) as queries:
        assert client.get(page).status_code == 200
    return len(queries)


def rows_in(client: Client, page: str) -> int:
    return client.get(page).content.decode().count('<th scope="row"')
