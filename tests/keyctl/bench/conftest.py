"""A pinned core on the bench."""

import pytest

from keyctl.cores.models import Core
from tests.cast import Cast
from tests.factories import make_core, make_system
from tests.permits import let_work_name_everything


@pytest.fixture(autouse=True)
def work_names_it(monkeypatch: pytest.MonkeyPatch, cast: Cast) -> None:
    """These tests are of what the bench shows; who may see it is tested beside the gate."""
    let_work_name_everything(monkeypatch, second=cast.officer)


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.administrator)
    return make_core(actor=cast.locksmith, site=cast.north, system=system)
