import pytest

from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom, set_up
from tests.scim.provider import Provider, make_provider


@pytest.fixture
def provider(cast: Cast) -> Provider:
    return make_provider(cast.administrator)


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return set_up(cast)
