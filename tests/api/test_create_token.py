import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.api.credentials import Credential
from keyctl.api.models import Scope, Token
from keyctl.api.services import create_token
from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.cast import Cast


def tomorrow() -> date:
    return timezone.localdate() + timedelta(days=1)


def make(cast: Cast, **facts: Any) -> tuple[Token, Credential]:
    facts.setdefault("actor", cast.administrator)
    facts.setdefault("sites", [cast.north])
    facts.setdefault("scopes", [Scope.ESTATE_READ])
    facts.setdefault("expires_on", tomorrow())
    return create_token(name="Room booking", **facts)


def test_the_credential_has_its_prefix_and_256_random_bits(cast: Cast) -> None:
    token, credential = make(cast)
    assert re.fullmatch(rf"kc_{token.prefix}_[0-9a-f]{{64}}", credential.text)


def test_the_secret_is_stored_nowhere(cast: Cast) -> None:
    token, credential = make(cast)
    stored = Token.objects.filter(pk=token.pk).values().get()
    assert not [value for value in stored.values() if credential.secret in str(value)]
    assert not [
        event for event in Event.objects.all() if credential.secret in f"{event.sentence}{event.detail}"
    ]


def test_a_trace_does_not_show_the_secret(cast: Cast) -> None:
    _, credential = make(cast)
    assert credential.secret not in repr(credential)


def test_it_acts_as_an_account_with_the_integration_role_at_its_sites_only(cast: Cast) -> None:
    token, _ = make(cast)
    memberships = Membership.objects.filter(user=token.user).values_list("site", "role")
    assert list(memberships) == [(cast.north.pk, Role.INTEGRATION)]


def test_nobody_can_sign_in_with_that_account(cast: Cast) -> None:
    token, _ = make(cast)
    assert not token.user.has_usable_password()


def test_history_says_who_made_it_and_what_it_may_do(cast: Cast) -> None:
    token, _ = make(cast, scopes=[Scope.ORDERS_WRITE, Scope.ESTATE_READ])
    [event] = history_of(token)
    assert event.actor == cast.administrator
    assert event.sentence == "made the access token Room booking (estate:read orders:write)"


def test_each_site_has_its_own_event(cast: Cast) -> None:
    Membership.objects.create(user=cast.administrator, site=cast.south, role=Role.ADMINISTRATOR)
    token, _ = make(cast, sites=[cast.north, cast.south])
    assert {event.site_id for event in history_of(token)} == {cast.north.pk, cast.south.pk}


def test_it_works_to_the_end_of_its_last_day(cast: Cast) -> None:
    token, _ = make(cast, expires_on=timezone.localdate())
    assert not token.is_expired
    assert token.last_day == timezone.localdate()


@pytest.mark.parametrize(
    "who", ["locksmith", "desk", "manager", "officer", "auditor", "requester", "stranger"]
)
def test_it_is_denied_to_everybody_but_administrators(cast: Cast, who: str) -> None:
    with pytest.raises(PermissionDenied):
        make(cast, actor=cast.everybody[who])
    assert not User.objects.filter(username__startswith="token-").exists()


def test_it_is_denied_where_one_of_the_sites_is_anothers(cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        make(cast, sites=[cast.north, cast.south])


def test_it_refuses_a_day_that_is_over(cast: Cast) -> None:
    with pytest.raises(Refused, match="over already"):
        make(cast, expires_on=timezone.localdate() - timedelta(days=1))


@pytest.mark.parametrize("missing", ["sites", "scopes"])
def test_it_refuses_a_token_for_nothing(cast: Cast, missing: str) -> None:
    with pytest.raises(Refused, match="choose one at least"):
        make(cast, **{missing: []})
