import pytest

from keyctl.accounts.models import User
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom, set_up


@pytest.fixture
def keeper(cast: Cast) -> User:
    """The administrator, of every site."""
    Membership.objects.create(user=cast.administrator, site=cast.south, role=Role.ADMINISTRATOR)
    return cast.administrator


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return set_up(cast)
