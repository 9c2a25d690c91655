import pytest

from tests.cast import Cast
from tests.keyctl.losses.estate import Estate


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return Estate.of(cast)
