"""Permissions of the invented estate: one that waits, one that is open, one that was declined."""

from django.utils import timezone

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.keys.reveal import cuts_to_show
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.reveals.models import Permission
from keyctl.reveals.services import ask_for_more, ask_to_see, decline, grant
from keyctl.systems.models import KeySymbol

Kind = KeySymbol.Kind


def build_looks(people: dict[Role, User]) -> None:
    smith, officer = people[Role.LOCKSMITH], people[Role.OFFICER]
    keys = (
        KeySymbol.objects.filter(level__gt=0)
        .select_related("system")
        .order_by("system__code", "level", "symbol")
    )
    waiting, allowed = keys.filter(kind=Kind.MASTER)[:2]
    spare = keys.filter(kind=Kind.CHANGE)[0]

    def ask(symbol: KeySymbol, reason: str) -> Permission:
        return ask_to_see(actor=smith, secret=cuts_to_show(symbol), reason=reason)

    ask(waiting, "A copy turns badly on two floors; it is to be cut anew by its figures")
    grant(
        actor=officer,
        permission=ask(allowed, "The fire service's copy is bent; a new one is wanted by tonight"),
        sign_in=FreshSignIn(officer.pk, timezone.now()),
        minutes=480,
        decision="The fire service called me too",
    )
    decline(
        actor=officer,
        permission=ask(spare, "To have the figures at hand"),
        decision="Open an order to cut it when a copy is wanted",
    )
    ask_for_more(
        actor=smith, site=Site.objects.order_by("code")[0], count=40, reason="Two floors are pinned tonight"
    )
