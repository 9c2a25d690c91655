"""Taking versions of a key system: by hand, and whenever keys were added to it."""

from collections.abc import Sequence
from functools import partial
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role_somewhere
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.versions.models import SystemVersion
from keyctl.versions.picture import packed, picture_of

TAKERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)
Occasion = SystemVersion.Occasion


@transaction.atomic
def take_version(*, actor: User, system: KeySystem, why: str) -> SystemVersion:
    """Keep the system as it is now, to compare with later."""
    require_role_somewhere(actor, system.sites.all(), *TAKERS)
    if not why.strip():
        raise Refused(_("Say what the version is taken for: its name tells nothing."))
    version = _stored(KeySystem.objects.select_for_update().get(pk=system.pk), Occasion.BY_HAND, actor, why)
    record(
        actor=actor,
        verb="system.version-taken",
        sentence=f"took version {version.number} of the key system {system.code}",
        site_id=_home(actor, system).pk,
        subjects=[system],
        detail={"number": version.number, "keys": version.keys, "cores": version.cores},
    )
    return version


def keep_after_adding(symbols: Sequence[KeySymbol]) -> None:
    """Told of new keys inside the act that adds them; the version is kept once the act is through."""
    for system in {symbol.system_id for symbol in symbols}:
        transaction.on_commit(partial(_keep, system), robust=True)


@transaction.atomic
def _keep(system_id: UUID) -> None:
    """One version for one act, however often it told of keys. Keys that one person adds one by one on a day
    go into one version, which is brought up to date: thousands of pictures that differ in a key help nobody.
    """
    system = KeySystem.objects.select_for_update().get(pk=system_id)
    act = history_of(system).exclude(verb="system.version-taken").first()
    actor = act.actor if act else None
    last = system.versions.defer("content").first()
    if last and act and last.made_at >= act.at:
        return
    if last and _is_continued(last, actor):
        _fill(last, system, _reason(act))
        last.save(update_fields=["content", "keys", "cores", "made_at", "why"])
        return
    _stored(system, Occasion.KEYS_ADDED, actor, _reason(act))


def _is_continued(last: SystemVersion, actor: User | None) -> bool:
    is_today = timezone.localdate(last.made_at) == timezone.localdate()
    first = last.number == 1  # the system as it was designed stays as it was
    return (
        is_today
        and not first
        and last.occasion == Occasion.KEYS_ADDED
        and last.made_by_id == (actor and actor.pk)
    )


def _reason(act: Event | None) -> str:
    return act.sentence if act else "keys were added"


def _stored(system: KeySystem, occasion: Occasion, actor: User | None, why: str) -> SystemVersion:
    newest = SystemVersion.objects.filter(system=system).aggregate(Max("number"))["number__max"] or 0
    version = SystemVersion(system=system, number=newest + 1, occasion=occasion, made_by=actor)
    _fill(version, system, why.strip())
    version.save()
    return version


def _fill(version: SystemVersion, system: KeySystem, why: str) -> None:
    picture = picture_of(system)
    version.content = packed(picture)
    version.keys, version.cores = len(picture.keys), len(picture.cores)
    version.made_at, version.why = timezone.now(), why[:400]


def _home(actor: User, system: KeySystem) -> Site:
    """The site whose history tells it: one of the system's where the actor has such a role."""
    return Site.objects.for_roles(actor, *TAKERS).filter(key_systems=system).order_by("code")[0]
