"""The second person's word: granted for a time, or declined, and why."""

from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.places.access import require_role
from keyctl.reveals.access import DECIDERS
from keyctl.reveals.models import Permission
from keyctl.reveals.services.asking import locked_permission, tell_history
from keyctl.reveals.services.telling import tell_decided

State = Permission.State
# For how long, in minutes.
LASTS = (30, 120, 480)


@transaction.atomic
def grant(
    *, actor: User, permission: Permission, sign_in: FreshSignIn, minutes: int, decision: str
) -> Permission:
    """A yes is as good as a look, so it takes the same proof of who says it."""
    sign_in.require(actor)
    if minutes not in LASTS:
        raise Refused(_("Choose for how long."))
    found = _decidable(actor, permission, decision)
    found.until = timezone.now() + timedelta(minutes=minutes)
    return _decided(actor, found, State.GRANTED, decision)


@transaction.atomic
def decline(*, actor: User, permission: Permission, decision: str) -> Permission:
    return _decided(actor, _decidable(actor, permission, decision), State.DECLINED, decision)


def _decidable(actor: User, permission: Permission, decision: str) -> Permission:
    found = locked_permission(permission)
    require_role(actor, found.site, *DECIDERS)
    if found.asked_by_id == actor.pk:
        raise Refused(_("You asked for this yourself. Another security officer decides."))
    if found.state != State.ASKED:
        raise Conflict(
            _("This is {value} already. Nothing was changed.").format(
                value=in_sentence(found.get_state_display())
            )
        )
    if not decision.strip():
        raise Refused(_("Say why; whoever asked reads it, and it stays in the list of looks."))
    return found


def _decided(actor: User, found: Permission, state: Permission.State, decision: str) -> Permission:
    found.state, found.decided_by, found.decided_at = state, actor, timezone.now()
    found.decision = decision.strip()[:300]
    found.save(update_fields=["state", "decided_by", "decided_at", "decision", "until"])
    what = "permitted" if state == State.GRANTED else "declined"
    sentence = f"{what} that {found.asked_by} sees {found.words}: {found.decision}"
    tell_history(actor, found, state, sentence)
    tell_decided(found)
    return found
