import pytest

from tests.cast import Cast
from tests.keyctl.counts.countroom import CountRoom, set_up


@pytest.fixture
def room(cast: Cast) -> CountRoom:
    return set_up(cast)
