"""What the demo says when something is in its way, and how it goes on after a stop."""

import socket
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from keyctl.places.models import Site
from tests import factories
from tests.keyctl.demo.run import run_demo


@pytest.fixture
def data_dir(db: None, settings: Settings, tmp_path: Path) -> Path:
    settings.DATA_DIR = tmp_path
    return tmp_path


def test_it_does_not_build_into_a_real_estate(data_dir: Path) -> None:
    factories.make_site("OURS")
    with pytest.raises(CommandError, match="another folder"):
        run_demo()


def test_a_taken_port_is_named_before_any_work(data_dir: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(CommandError, match=f"Port {port} is taken"):
            call_command("demo", port=port)
    assert not Site.objects.exists()
