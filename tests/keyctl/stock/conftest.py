import pytest

from tests.cast import Cast
from tests.keyctl.stock.bench import Bench


@pytest.fixture
def bench(cast: Cast) -> Bench:
    return Bench(cast)
