"""A second person's permission, asked for and granted as people do it."""

from typing import Any

import pytest
from django.db.models import Model

from keyctl.accounts.models import User
from keyctl.places.roles import Role
from keyctl.reveals import grounds
from keyctl.reveals.grounds import Ground
from keyctl.reveals.models import Permission
from keyctl.reveals.services import ask_to_see, grant
from keyctl.reveals.things import find_thing
from tests.factories import make_user
from tests.signing import proven


def permit(kind: str, thing: Model, *, to: User, by: User, minutes: int = 120) -> Permission:
    """``kind`` as the thing's app registered it."""
    secret: Any = find_thing(to, kind, thing.pk)
    asked = ask_to_see(actor=to, secret=secret, reason="For this test")
    return grant(actor=by, permission=asked, sign_in=proven(by), minutes=minutes, decision="It may be seen")


def let_work_name_everything(monkeypatch: pytest.MonkeyPatch, second: User) -> None:
    """For tests of what is shown, not of who may see it: some work names each thing, and a second person
    agreed to it."""
    monkeypatch.setattr(
        grounds,
        "_sources",
        [lambda _actor, things: {each.pk: Ground("for a test", second=second) for each in things}],
    )


def grant_what_waits() -> None:
    """An officer of each site, who asked for none of it, says yes."""
    for asked in Permission.objects.filter(state=Permission.State.ASKED).select_related("site"):
        second = make_user(site=asked.site, role=Role.OFFICER)
        grant(actor=second, permission=asked, sign_in=proven(second), minutes=120, decision="It may be seen")
