"""Pins for a program: through the gate that people go through, and behind a window that a person opened."""

from dataclasses import replace

from django.utils import timezone

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.api.models import Token
from keyctl.api.problems import Problem
from keyctl.api.windows import locked_token, window_of
from keyctl.cores.models import Core
from keyctl.cores.services import pins_to_show
from keyctl.lib.errors import Refused
from keyctl.orders.models import WorkOrder
from keyctl.orders.naming import named_by_order
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.reveals.grounds import Ground
from keyctl.reveals.models import Permission
from keyctl.reveals.services import ask_to_see, reveal_one
from keyctl.reveals.things import Secret
from keyctl.vault.services import why_closed


def read_pins(
    *, token: Token, core: Core, order: WorkOrder | None = None, permission: Permission | None = None
) -> engine.Pinning:
    """On the ground of an order that people opened, or of a permission for this token and this core."""
    if why := why_closed():
        raise Problem("vault-sealed", why)

    def wanted() -> Secret[engine.Pinning]:
        _refuse_closed(locked_token(token))
        secret = _secret(core)
        ground = _ground(core, order, permission)
        return replace(secret, ground=ground, about=(token, *([order] if order else [])))

    return reveal_one(actor=token.user, sign_in=_presence(token), wanted=wanted)


def ask_to_read(*, token: Token, core: Core, reason: str) -> Permission:
    """A security officer of the site is asked, on the page where people's questions are decided."""
    secret = _secret(core)
    asked = replace(secret, words=f"{secret.words}, by the program {token}")
    return ask_to_see(actor=token.user, secret=asked, reason=reason)


def _secret(core: Core) -> Secret[engine.Pinning]:
    return replace(pins_to_show(core), roles=(Role.INTEGRATION,))


def _presence(token: Token) -> FreshSignIn:
    """A program proves no presence. In its place stands the officer who opened the window with theirs; it is
    looked at again under the token's lock."""
    _refuse_closed(token)
    return FreshSignIn(token.user_id, timezone.now())


def _refuse_closed(token: Token) -> None:
    if token.is_revoked or token.is_expired or window_of(token) is None:
        raise Refused(
            "No window is open for this token. A security officer other than its maker opens one, on the "
            "page of programs that read pins."
        )


def _ground(core: Core, order: WorkOrder | None, permission: Permission | None) -> Ground | None:
    """None where a permission is to say it: the gate looks for it itself."""
    if order is not None:
        return _by_order(order, core)
    if permission is None or not permission.is_open or permission.subject_id != core.pk:
        raise Refused("This permission lets nobody see it now: it waits, has ended, or is for another thing.")
    return None


def _by_order(order: WorkOrder, core: Core) -> Ground:
    if Membership.objects.filter(user=order.opened_by_id, role=Role.INTEGRATION).exists():
        raise Refused(f"{order} was opened by a program. Only work that people gave is a ground to see pins.")
    ground = named_by_order(order, core)
    if ground is None:
        raise Refused(f"{order} does not name core {core}, or is not at work. Name the order that does.")
    return ground
