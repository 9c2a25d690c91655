"""A mail server that listens, and a letter to write."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from pytest_django import Settings

from keyctl.notices.models import Notice
from keyctl.notices.services import send_notice
from tests.cast import Cast
from tests.keyctl.notices.mailserver import Box, mail_server

Write = Callable[..., Notice]


@pytest.fixture
def server(settings: Settings) -> Iterator[Box]:
    with mail_server() as box:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", box.port
        settings.EMAIL_HOST_USER, settings.EMAIL_USE_TLS, settings.EMAIL_USE_SSL = "", False, False
        settings.DEFAULT_FROM_EMAIL = "Key desk <desk@example.org>"
        settings.BASE_URL = "https://keys.example.org"
        yield box


@pytest.fixture
def write(cast: Cast) -> Write:
    def write(**facts: Any) -> Notice:
        row: dict[str, Any] = {"to": "ann@example.org", "name": "Ann Bell", "kind": "test"}
        row |= {"template": "test", "facts": {"site": cast.north}, "site": cast.north}
        notice = send_notice(**row | facts)
        assert notice is not None
        return notice

    return write
