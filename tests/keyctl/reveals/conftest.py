import pytest

from tests.cast import Cast
from tests.keyctl.reveals.bench import Bench, set_up


@pytest.fixture
def bench(cast: Cast) -> Bench:
    return set_up(cast)
