from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from keyctl.api.models import Token
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.api.client import Api
from tests.cast import Cast
from tests.factories import make_user


def run(*arguments: str, **options: Any) -> str:
    out = StringIO()
    call_command("api_token", "Night shift", *arguments, stdout=out, stderr=StringIO(), **options)
    return out.getvalue().strip()


def test_it_prints_a_token_that_works_and_nothing_else(cast: Cast) -> None:
    text = run("--site", "NORTH", "--scope", "estate:read")
    assert Api(text).ids("sites/") == [str(cast.north.pk)]


def test_it_is_made_in_the_name_of_the_only_administrator(cast: Cast) -> None:
    run("--site", "NORTH", "--scope", "estate:read")
    assert Token.objects.get().created_by == cast.administrator


def test_with_several_administrators_one_must_be_named(cast: Cast) -> None:
    other = make_user("other", site=cast.north, role=Role.ADMINISTRATOR)
    with pytest.raises(CommandError, match="administrator, other"):
        run("--site", "NORTH", "--scope", "estate:read")
    run("--site", "NORTH", "--scope", "estate:read", "--by", "other")
    assert Token.objects.get().created_by == other


def test_several_sites_and_scopes(cast: Cast) -> None:
    Membership.objects.create(user=cast.administrator, site=cast.south, role=Role.ADMINISTRATOR)
    run("--site", "NORTH", "--site", "SOUTH", "--scope", "orders:write", "--scope", "orders:read")
    token = Token.objects.get()
    assert token.scopes == "orders:read orders:write"
    assert token.user.memberships.count() == 2


def test_its_last_day_is_as_given(cast: Cast) -> None:
    run("--site", "NORTH", "--scope", "estate:read", "--expires", "2099-06-30")
    assert Token.objects.get().last_day.isoformat() == "2099-06-30"


WRONG = [
    (["--site", "WEST"], "There is no site WEST"),
    (["--site", "NORTH", "--by", "nobody"], "There is no user nobody"),
    (["--site", "NORTH", "--by", "locksmith"], "does not administer"),
    (["--site", "NORTH", "--expires", "2001-01-01"], "over already"),
    (["--site", "SOUTH"], "administered by: nobody"),
]


@pytest.mark.parametrize(("arguments", "words"), WRONG)
def test_it_refuses_with_a_sentence(cast: Cast, arguments: list[str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        run(*arguments, "--scope", "estate:read")
    assert not Token.objects.exists()
