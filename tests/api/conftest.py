import pytest

from keyctl.api import quota
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.api.client import Api, make_api
from tests.api.estate import Estate, build
from tests.cast import Cast
from tests.factories import make_user


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return build(cast.north, cast.locksmith)


@pytest.fixture
def api(cast: Cast) -> Api:
    """A program with every scope at the north site."""
    return make_api(cast.administrator, cast.north)


@pytest.fixture
def foreign(cast: Cast) -> Api:
    """A program with every scope at the south site."""
    return make_api(make_user("south-administrator", site=cast.south, role=Role.ADMINISTRATOR), cast.south)


@pytest.fixture
def both(cast: Cast) -> Api:
    """A program with every scope at both sites."""
    Membership.objects.create(user=cast.administrator, site=cast.south, role=Role.ADMINISTRATOR)
    return make_api(cast.administrator, cast.north, cast.south)


@pytest.fixture
def unmetered(monkeypatch: pytest.MonkeyPatch) -> None:
    """As each minute begins, a token's first request asks the database for its share: where queries are
    counted, that would be four more for whichever came first."""
    monkeypatch.setattr(
        quota, "_take_share", lambda _token, _kind, minute, limit: quota.Share(minute, limit, 0)
    )
