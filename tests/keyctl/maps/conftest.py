from collections.abc import Iterator
from unittest.mock import patch

import pytest

from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom, set_up
from tests.keyctl.maps.clock import Clock


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return set_up(cast)


@pytest.fixture
def clock() -> Iterator[Clock]:
    found = Clock()
    with patch("django.utils.timezone.datetime", found.stand_in()):
        yield found
