import pytest

from tests.cast import Cast
from tests.keyctl.keys import keyroom
from tests.keyctl.keys.keyroom import KeyRoom
from tests.keyctl.orders import workshop
from tests.keyctl.orders.workshop import Workshop


@pytest.fixture
def shop(cast: Cast) -> Workshop:
    return workshop.set_up(cast)


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return keyroom.set_up(cast)
