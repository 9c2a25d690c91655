"""Adding keys to a system, and opening one whose keys follow no progression."""

import json
from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role_somewhere
from keyctl.places.models import Site
from keyctl.systems.access import DESIGNERS
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services.storing import NewKey, store_keys
from keyctl.vault import services as vault


@transaction.atomic
def add_symbols(
    *, actor: User, system: KeySystem, entries: Sequence[NewKey], origin: KeySymbol.Origin
) -> list[KeySymbol]:
    """Store further keys of a system, all or none; refused with the symbols of those it has already."""
    require_role_somewhere(actor, system.sites.all(), *DESIGNERS)
    if not entries:
        raise Refused(_("Name the keys to add to {code}.").format(code=system.code))
    locked = KeySystem.objects.select_for_update().get(pk=system.pk)
    made = store_keys(locked, entries, origin)
    count = f"{len(made)} key{'' if len(made) == 1 else 's'}"
    how = in_english(KeySymbol.Origin(origin).label).lower()
    record(
        actor=actor,
        verb="system.extended",
        sentence=f"added {count} to the key system {system.code} ({how})",
        site_id=_home(actor, locked).pk,
        subjects=[locked],
        detail={"keys": len(made), "first": made[0].symbol, "origin": str(origin)},
    )
    return made


@transaction.atomic
def open_system(
    *,
    actor: User,
    sites: Sequence[Site],
    code: str,
    name: str,
    format_id: str,
    keyway: str,
    levels: int,
    design: engine.Design | None = None,
    control: str | None = None,
) -> KeySystem:
    """A system without keys but its control key: for charts and for lists that are brought in."""
    refuse_place(actor, sites, code)
    _refuse_control(format_id, control)
    system = KeySystem(
        code=code, name=name, format_id=format_id, keyway=keyway, levels=levels, created_by=actor
    )
    save_system(system, sites, design)
    if control is not None:
        entry = NewKey(engine.CONTROL, KeySymbol.Kind.CONTROL, control)
        store_keys(system, [entry], KeySymbol.Origin.BROUGHT_IN)
    record(
        actor=actor,
        verb="system.opened",
        sentence=f"opened the key system {code} for keys to come",
        site_id=sites[0].pk,
        subjects=[system],
    )
    return system


def refuse_place(actor: User, sites: Sequence[Site], code: str) -> None:
    """A system stands at a site where its maker works with keys, under a code of its own."""
    if not sites:
        raise Refused(_("A key system belongs to a site; choose one at least."))
    require_role_somewhere(actor, Site.objects.filter(pk__in=[site.pk for site in sites]), *DESIGNERS)
    if KeySystem.objects.filter(code=code).exists():
        raise Refused(_("There is a key system {code} already; choose another code.").format(code=code))


def save_system(system: KeySystem, sites: Sequence[Site], design: engine.Design | None) -> None:
    if design is not None:
        system.design = vault.seal(system, "design", json.dumps(design.parameters))
    system.save()
    system.sites.set(sites)


def _refuse_control(format_id: str, control: str | None) -> None:
    if control is not None and not engine.load_format(format_id).sleeve:
        raise Refused(_("Cores of this format have no control sleeve; leave the control key out."))


def _home(actor: User, system: KeySystem) -> Site:
    """The site whose history tells it: one of the system's where the actor works with keys."""
    return Site.objects.for_roles(actor, *DESIGNERS).filter(key_systems=system).order_by("code")[0]
