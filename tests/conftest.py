"""Fixtures every test may use."""

import pytest

from tests.cast import Cast, gather


@pytest.fixture
def cast(db: None) -> Cast:
    return gather()
