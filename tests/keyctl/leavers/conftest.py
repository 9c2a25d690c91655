import pytest

from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom, set_up


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return set_up(cast)
