import pytest

from tests.cast import Cast
from tests.keyctl.recovery.loss import Loss, set_up


@pytest.fixture
def loss(cast: Cast) -> Loss:
    """Small-format cores: the sleeve lies over every position."""
    return set_up(cast, "small-a2-7")


@pytest.fixture
def full(cast: Cast) -> Loss:
    """Full-size cores, whose control pin the longer tip of a blank reaches."""
    return set_up(cast, "full-tip-6")


@pytest.fixture
def padlock(cast: Cast) -> Loss:
    return set_up(cast, "padlock-screw-6")


@pytest.fixture
def fixed(cast: Cast) -> Loss:
    return set_up(cast, "fixed-6")
