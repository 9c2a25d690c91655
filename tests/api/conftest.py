import pytest

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
