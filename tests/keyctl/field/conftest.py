import pytest

from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, build_house, tablet_of


@pytest.fixture
def house(cast: Cast) -> House:
    return build_house(cast.north, by=cast.locksmith)


@pytest.fixture
def tablet(cast: Cast) -> Tablet:
    return tablet_of(cast.locksmith, cast.north)
