"""A pinned core on the bench."""

import pytest

from keyctl.cores.models import Core
from tests.cast import Cast
from tests.factories import make_core, make_system


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.administrator)
    return make_core(actor=cast.locksmith, site=cast.north, system=system)
