import pytest

from tests.cast import Cast
from tests.keyctl.approvals.estate import Estate, set_up


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return set_up(cast)
