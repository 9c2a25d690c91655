import pytest

from tests.cast import Cast
from tests.keyctl.rotations.yard import Yard


@pytest.fixture
def yard(cast: Cast) -> Yard:
    return Yard.of(cast)
