"""`/.well-known/security.txt` as RFC 9116 asks for it: the fields, the type, and an end within a year."""

from datetime import datetime, timedelta

from django.test import Client
from django.utils import timezone
from pytest_django import Settings

PATH = "/.well-known/security.txt"


def test_it_names_the_contact_and_until_when(client: Client, db: None, settings: Settings) -> None:
    settings.SECURITY_CONTACT = "mailto:security@example.edu"
    settings.BASE_URL = "https://keys.example.edu"
    answer = client.get(PATH)
    assert answer["Content-Type"] == "text/plain; charset=utf-8"
    fields = dict(line.split(": ", 1) for line in answer.content.decode().splitlines())
    assert fields["Contact"] == "mailto:security@example.edu"
    assert fields["Canonical"] == f"https://keys.example.edu{PATH}"
    ends = datetime.fromisoformat(fields["Expires"])
    assert timezone.now() + timedelta(days=30) < ends < timezone.now() + timedelta(days=365)


def test_where_nobody_is_named_there_is_none(client: Client, db: None) -> None:
    assert client.get(PATH).status_code == 404
