"""A key and a folder of checkpoints for each test."""

from pathlib import Path

import pytest
from pytest_django import Settings


@pytest.fixture(autouse=True)
def checkpoints(settings: Settings, tmp_path: Path) -> Path:
    settings.HISTORY_KEY_FILE = tmp_path / "history.key"
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"
    return tmp_path / "checkpoints"
