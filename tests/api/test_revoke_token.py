import pytest
from django.core.exceptions import PermissionDenied

from keyctl.api.models import Token
from keyctl.api.services import revoke_token
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.api.client import Api, problem
from tests.cast import Cast


def test_a_revoked_token_stops_at_once(api: Api, cast: Cast) -> None:
    assert api.get("sites/").status_code == 200
    revoke_token(actor=cast.administrator, token=Token.objects.get())
    problem(api.get("sites/"), 401, "not-authenticated")


def test_history_says_who_revoked_it(api: Api, cast: Cast) -> None:
    token = revoke_token(actor=cast.administrator, token=Token.objects.get())
    assert history_of(token)[0].sentence == "revoked the access token Invented integration"


def test_the_second_to_revoke_it_is_told(api: Api, cast: Cast) -> None:
    token = revoke_token(actor=cast.administrator, token=Token.objects.get())
    with pytest.raises(Conflict, match="revoked already"):
        revoke_token(actor=cast.administrator, token=token)


def test_it_is_denied_to_a_locksmith(api: Api, cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        revoke_token(actor=cast.locksmith, token=Token.objects.get())
    assert api.get("sites/").status_code == 200


def test_it_is_denied_where_the_token_reaches_anothers_site_too(api: Api, cast: Cast) -> None:
    token = Token.objects.get()
    Membership.objects.create(user=token.user, site=cast.south, role=Role.INTEGRATION)
    with pytest.raises(PermissionDenied):
        revoke_token(actor=cast.administrator, token=token)
