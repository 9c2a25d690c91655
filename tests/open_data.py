"""Open building models that tests read; they are no part of the product (README of the folder says whose)."""

import os
from pathlib import Path

import pytest

FOLDER = Path(os.environ.get("KEYCTL_OPEN_DATA", Path(__file__).parents[2] / "shared" / "data"))


def open_data(name: str) -> Path:
    """The file, or a skip that says what is missing; under CI that is a failure."""
    file = FOLDER / name
    if not file.is_file():
        missing = pytest.fail if os.environ.get("KEYCTL_CI") else pytest.skip
        missing(f"{file} is missing; name the folder of open building models in KEYCTL_OPEN_DATA.")
    return file
