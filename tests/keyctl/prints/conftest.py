import pytest

from tests.cast import Cast
from tests.keyctl.orders.workshop import Workshop, set_up


@pytest.fixture
def shop(cast: Cast) -> Workshop:
    return set_up(cast)
