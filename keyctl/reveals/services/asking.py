"""Asking a second person, and taking it back."""

from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.language import in_sentence
from keyctl.places.access import has_role, require_role
from keyctl.places.models import Site
from keyctl.reveals.access import DECIDERS, SEERS
from keyctl.reveals.models import MOST_MORE, Permission
from keyctl.reveals.services.revealing import require_roles
from keyctl.reveals.services.telling import tell_asked
from keyctl.reveals.things import Secret

State = Permission.State


@transaction.atomic
def ask_to_see(*, actor: User, secret: Secret[Any], reason: str) -> Permission:
    """The question goes to the officers of the first site at which the person has the role."""
    require_roles(actor, [secret])
    site = next(site for site in secret.sites if has_role(actor, site, *secret.roles))
    return _ask(
        actor, Permission(kind=secret.kind, subject_id=secret.thing.pk, words=secret.words, site=site), reason
    )


@transaction.atomic
def ask_for_more(*, actor: User, site: Site, count: int, reason: str) -> Permission:
    require_role(actor, site, *SEERS)
    if not 1 <= count <= MOST_MORE:
        raise Refused(_("Ask for 1 to {most_more} more.").format(most_more=MOST_MORE))
    words = f"{count} more at {site}"
    return _ask(
        actor,
        Permission(kind=Permission.MORE, subject_id=site.pk, words=words, site=site, count=count),
        reason,
    )


@transaction.atomic
def withdraw_permission(*, actor: User, permission: Permission) -> Permission:
    """By whoever asked; an officer, too, ends what was granted."""
    found = locked_permission(permission)
    if found.asked_by_id != actor.pk:
        require_role(actor, found.site, *DECIDERS)
    if found.state not in {State.ASKED, State.GRANTED}:
        raise Conflict(
            _("This is {value} already. Nothing was changed.").format(
                value=in_sentence(found.get_state_display())
            )
        )
    found.state, found.withdrawn_at = State.WITHDRAWN, timezone.now()
    found.save(update_fields=["state", "withdrawn_at"])
    tell_history(actor, found, "withdrawn", f"took back the permission to see {found.words}")
    return found


def locked_permission(permission: Permission) -> Permission:
    return held(Permission.objects.with_names(), permission.pk)


def tell_history(actor: User, permission: Permission, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"permission.{verb}",
        sentence=sentence[:400],
        site_id=permission.site_id,
        subjects=[permission],
        detail={"kind": permission.kind, "thing": str(permission.subject_id)},
    )


def _ask(actor: User, permission: Permission, reason: str) -> Permission:
    if not reason.strip():
        raise Refused(_("Say why: the security officer decides by it, and it stays in the list of looks."))
    mine = Permission.objects.filter(asked_by=actor, kind=permission.kind, subject_id=permission.subject_id)
    if mine.filter(state=State.ASKED).exists():
        raise Conflict(_("You have asked for this already; it waits for a security officer."))
    permission.asked_by, permission.reason = actor, reason.strip()[:300]
    permission.words = permission.words[:200]
    permission.save(force_insert=True)
    tell_history(actor, permission, "asked", f"asked to see {permission.words}: {permission.reason}")
    tell_asked(permission)
    return permission
