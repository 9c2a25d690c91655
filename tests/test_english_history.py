"""History stays in one language, whoever writes it: evidence must not depend on who looks."""

import pytest
from django.utils import translation

from keyctl.audit.models import Event
from tests.cast import gather
from tests.pseudo import speak
from tests.scenes import build_routes


def test_history_is_in_english_whatever_the_pages_speak(monkeypatch: pytest.MonkeyPatch, db: None) -> None:
    """All that the scenes do, done by people who read another language."""
    speak(monkeypatch)
    with translation.override("de"):
        build_routes(gather())
    assert Event.objects.count() > 50
    told = Event.objects.filter(sentence__contains="⟦").values_list("verb", "sentence")
    assert sorted(told) == []
