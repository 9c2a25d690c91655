"""``python -m tests.load.casting``: people, tablets and a token for an estate that stands, as JSON.

In a process of its own with the product's settings. What they know is what such people know: their sign-in,
their tablet, the keys in the drawer; everything else they find on pages.
"""

import argparse
import json
import secrets
import sys
from collections.abc import Iterator
from random import Random
from typing import Any
from uuid import UUID

Json = dict[str, Any]
PASSWORD = "bench ledger lamp"
# Of sixty people.
SHARES = {
    "tablet": 10,
    "locksmith": 8,
    "desk": 10,
    "manager": 8,
    "officer": 4,
    "requester": 15,
    "auditor": 4,
    "program": 1,
}
ROLES = {"tablet": "locksmith", "desk": "key-desk", "program": "integration"}
# People meet where they work: so many sites, however many the estate has.
SITES = 3
DOORS_OF_A_TABLET, SPARES = 6, 2
DOORS_OF_A_SMITH, KEYS_OF_A_DRAWER = 12, 120
SCOPES = ("estate:read", "keys:read", "holders:read", "holders:write", "requests:read", "orders:read")


def dealt(people: int) -> dict[str, int]:
    """By the shares, each kind at least once; the largest kind takes what rounding leaves."""
    whole = sum(SHARES.values())
    counts = {kind: max(1, share * people // whole) for kind, share in SHARES.items()}
    counts["requester"] = max(1, counts["requester"] + people - sum(counts.values()))
    return counts


def cast(people: int, seed: int) -> Json:
    from keyctl.places.models import Site

    rng = Random(f"casting {seed}")
    sites = list(Site.objects.order_by("code")[:SITES])
    grounds = {site.pk: _Ground(site, rng) for site in sites}
    persons = [
        _person(kind, nth, grounds[sites[nth % len(sites)].pk], sites)
        for kind, count in dealt(people).items()
        for nth in range(count)
    ]
    return {"people": persons, "words": _words(sites), "sites": [str(site.pk) for site in sites]}


class _Ground:
    """What people of one site share, dealt out so that tablets meet nobody at their doors."""

    def __init__(self, site: Any, rng: Random) -> None:
        self.site, self.rng = site, rng
        self.housings = self._quiet_housings()
        self.smiths_doors: list[str] = []

    def _quiet_housings(self) -> list[Any]:
        """With a pinned core of the usual construction, and in nobody's order."""
        from keyctl.orders.models import OrderLine
        from keyctl.places.models import Housing

        waiting = OrderLine.objects.filter(state="open", housing__isnull=False).values("housing")
        found = Housing.objects.filter(
            door__floor__building__site=self.site,
            door__door_class="ordinary",
            construction="small-format",
            cores__pinning__isnull=False,
            cores__disputed_at=None,
        )
        pks = list(found.exclude(pk__in=waiting).order_by("pk").values_list("pk", flat=True))
        self.rng.shuffle(pks)
        wanted = pks[:200]
        return list(Housing.objects.filter(pk__in=wanted).order_by("pk").select_related("door"))

    def take(self, count: int) -> list[Any]:
        if len(self.housings) < count:
            raise ValueError(f"{self.site} has too few quiet doors for so many people")
        taken, self.housings = self.housings[:count], self.housings[count:]
        return taken

    def doors_of_smiths(self) -> list[str]:
        if not self.smiths_doors:
            self.smiths_doors = [str(each.door_id) for each in self.take(DOORS_OF_A_SMITH)]
        return self.smiths_doors


def _person(kind: str, nth: int, ground: _Ground, sites: list[Any]) -> Json:
    from keyctl.accounts.models import User
    from keyctl.keys.models import Holder
    from keyctl.places.models import Membership

    name = f"load-{kind}-{nth}"
    if kind == "program":
        return {"kind": kind, "name": name, "site": str(ground.site.pk), "token": _token(name, sites)}
    user = User.objects.create_user(name, display_name=f"Load {kind} {nth}", password=PASSWORD)
    reach = sites if kind in {"officer", "auditor"} else [ground.site]
    role = ROLES.get(kind, kind)
    Membership.objects.bulk_create([Membership(user=user, site=site, role=role) for site in reach])
    Holder.objects.create(site=ground.site, user=user, name=user.display_name)
    facts = {"kind": kind, "name": name, "id": str(user.pk), "password": PASSWORD}
    facts |= {"site": str(ground.site.pk), "secret": _second_factor(user)}
    more = {"tablet": _tablet, "locksmith": _smith, "desk": _desk, "manager": _manager}
    return facts | (more[kind](user, ground) if kind in more else {})


def _second_factor(user: Any) -> str:
    """An app for codes, where the role forces one."""
    from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret

    from keyctl.accounts.factors import must_have_second_factor

    if not must_have_second_factor(user):
        return ""
    secret = str(generate_totp_secret())
    TOTP.activate(user, secret)
    return secret


def _tablet(user: Any, ground: _Ground) -> Json:
    """A tablet of its own with some doors, and loose cores in the case of whoever carries it."""
    from keyctl.cores.models import Core
    from keyctl.field import services as field
    from keyctl.field.views.api import COOKIE

    proof = field.register_device(actor=user, site=ground.site, name=f"Tablet of {user}").proof
    housings = ground.take(DOORS_OF_A_TABLET)
    inside = list(Core.objects.filter(housing__in=housings))
    spares = [_spare(user, core, "case") for core in inside[:SPARES]]
    spots = {core.tag: [str(core.housing_id), core.version] for core in inside}
    spots |= {core.tag: ["case", core.version] for core in spares}
    facts = {"device": proof.split(".")[0], "cookies": {COOKIE: proof}, "cores": spots}
    facts["its_own"] = [str(core.pk) for core in [*inside, *spares]]
    return facts | {"housings": [str(each.pk) for each in housings]}


def _spare(user: Any, like: Any, place: str) -> Any:
    """Another core pinned like this one."""
    from keyctl.cores import services as cores

    symbols = list(like.keyed_to.all())
    core = cores.register_core(actor=user, site=like.site, system=like.system, symbols=symbols)
    core = cores.pin_core(actor=user, core=core, version=core.version)
    return cores.move_core(actor=user, core=core, version=core.version, place=place)


def _smith(user: Any, ground: _Ground) -> Json:
    """Doors that all locksmiths of the site work on, so that two may meet at one."""
    from keyctl.cores.models import Core

    doors = ground.doors_of_smiths()
    inside = list(Core.objects.filter(housing__door__in=[UUID(pk) for pk in doors])[:SPARES])
    loose = [_spare(user, core, "shelf") for core in inside]
    return {"doors": doors, "loose": [str(core.pk) for core in loose]}


def _desk(user: Any, ground: _Ground) -> Json:
    """Keys of the drawer, by what is stamped on them, and people whom the clerk knows."""
    from keyctl.keys.models import Holder, KeyCopy

    plain = KeyCopy.objects.filter(site=ground.site, symbol__kind="change", condition="sound")
    free = plain.filter(state="in-cabinet", reservations=None).order_by("serial")
    holders = Holder.objects.filter(site=ground.site, user=None, is_active=True).exclude(email="")
    return {
        "drawer": list(free.values_list("serial", flat=True)[:KEYS_OF_A_DRAWER]),
        "known": list(holders.order_by("name").values_list("email", "name")[:40]),
    }


def _manager(user: Any, ground: _Ground) -> Json:
    from keyctl.places.models import Building, BuildingManager

    buildings = list(Building.objects.filter(site=ground.site))
    BuildingManager.objects.bulk_create([BuildingManager(building=each, user=user) for each in buildings])
    return {}


def _token(name: str, sites: list[Any]) -> str:
    from datetime import timedelta

    from django.utils import timezone

    from keyctl.accounts.models import User
    from keyctl.api.models import Scope
    from keyctl.api.services import create_token

    administrator = User.objects.filter(memberships__role="administrator").distinct()[0]
    _token_row, credential = create_token(
        actor=administrator,
        name=name,
        sites=sites,
        scopes=[Scope(word) for word in SCOPES],
        expires_on=timezone.localdate() + timedelta(days=2),
    )
    return credential.text


def _words(sites: list[Any]) -> list[str]:
    """What people look for: a room, a tag, a key, a name, and a name with a fault of typing."""
    return list(_looked_for(sites))


def _looked_for(sites: list[Any]) -> Iterator[str]:
    from keyctl.cores.models import Core
    from keyctl.keys.models import Holder, KeyCopy
    from keyctl.places.models import Door

    for site in sites:
        yield from Door.objects.filter(floor__building__site=site).values_list("number", flat=True)[:5]
        yield from Core.objects.filter(site=site).values_list("tag", flat=True)[:5]
        yield from KeyCopy.objects.filter(site=site).values_list("serial", flat=True)[:5]
        for name in Holder.objects.filter(site=site, user=None).values_list("name", flat=True)[:5]:
            yield name.replace(" ", "+")
            yield name.split()[-1][:-1] + "x"


def main(words: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.load.casting")
    parser.add_argument("--people", type=int, required=True)
    parser.add_argument("--seed", type=int, required=True)
    asked = parser.parse_args(words)
    import django

    django.setup()
    from django.db import transaction

    with transaction.atomic():
        told = cast(asked.people, asked.seed)
    json.dump(told | {"mark": secrets.token_hex(4)}, sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
