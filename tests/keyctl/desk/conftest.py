import pytest
from django.test import Client

from tests.cast import Cast
from tests.keyctl.desk.counter import Counter, Way
from tests.keyctl.keys.keyroom import KeyRoom, set_up


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return set_up(cast)


@pytest.fixture
def counter(room: KeyRoom, client: Client) -> Counter:
    client.force_login(room.desk)
    return Counter(room, client)


@pytest.fixture
def back(counter: Counter) -> Counter:
    return Counter(counter.room, counter.client, Way.BACK)


@pytest.fixture
def transfer(counter: Counter) -> Counter:
    return Counter(counter.room, counter.client, Way.TRANSFER)
