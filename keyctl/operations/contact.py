"""Whom to tell of a weakness, for whoever finds one (RFC 9116); no page at all where nobody is named."""

from datetime import timedelta

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

# The standard asks for less than a year; a page made at each look never grows old, a copy of it does.
HOLDS_FOR = timedelta(days=180)


def text() -> str:
    if not settings.SECURITY_CONTACT:
        return ""
    until = (timezone.now() + HOLDS_FOR).strftime("%Y-%m-%dT%H:%M:%SZ")
    rows = (
        ("Contact", settings.SECURITY_CONTACT),
        ("Expires", until),
        ("Preferred-Languages", "en"),
        ("Canonical", settings.BASE_URL + reverse("operations:contact")),
    )
    return "".join(f"{name}: {value}\n" for name, value in rows)
