"""The engine keeps what it once read; every test's database begins empty."""

from collections.abc import Iterator

import pytest

from keyctl import engine


@pytest.fixture(autouse=True)
def _forgotten() -> Iterator[None]:
    engine.load_format.cache_clear()
    yield
    engine.load_format.cache_clear()
