"""What is told of an error, on the page for developers and in the log, holds no bitting; nor does a dump."""

import io
import logging
import subprocess
import sys
from pathlib import Path
from typing import Any, NoReturn

import pytest
from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpRequest
from django.test import RequestFactory, override_settings
from django.views.debug import get_exception_reporter_class, technical_500_response

from keyctl.lib.logs import configuration
from keyctl.places.models import Site
from keyctl.vault import services as vault
from tests.cast import Cast
from tests.keyctl.field.fieldroom import make_core

CANARY = "9173" + "5028"
ROOT = Path(__file__).parents[3]


class Told(Exception):
    """As a library would that quotes what it could not read."""


def fail(bitting: str) -> NoReturn:
    cuts = list(bitting)
    innocent = {"deep": [bitting, {"er": cuts}]}
    try:
        raise Told(f"cannot read {bitting}")
    except Told as first:
        first.add_note(f"it was {innocent}")
        raise UnicodeEncodeError("ascii", bitting, 0, 8, f"no {bitting}") from first


def raised(bitting: str = CANARY) -> Any:
    try:
        fail(bitting)
    except UnicodeEncodeError:
        return sys.exc_info()


def request(**facts: str) -> HttpRequest:
    made = RequestFactory().post("/cores/", {"bitting": CANARY, "q": CANARY, **facts})
    made.COOKIES["session"] = CANARY
    made.META["HTTP_COOKIE"] = f"session={CANARY}"
    return made


@override_settings(DEBUG=True)
@pytest.mark.parametrize("accept", ["text/html", "text/plain"])
def test_the_page_for_developers_tells_places_and_names_and_no_value(db: None, accept: str) -> None:
    asked = request()
    asked.META["HTTP_ACCEPT"] = accept
    page = technical_500_response(asked, *raised()).content.decode()
    assert CANARY not in page
    assert "UnicodeEncodeError" in page
    assert "test_reporting.py" in page
    assert "innocent" in page or accept == "text/plain"


@override_settings(DEBUG=True)
@pytest.mark.parametrize("is_email", [False, True])
def test_neither_does_what_would_be_mailed(db: None, is_email: bool) -> None:
    asked = request()
    reporter_class: Any = get_exception_reporter_class(asked)
    reporter = reporter_class(asked, *raised(), is_email=is_email)
    for text in (reporter.get_traceback_html(), reporter.get_traceback_text()):
        assert CANARY not in text
        assert "UnicodeEncodeError" in text


class BrokenCipher:
    def encrypt(self, _nonce: bytes, content: bytes, _place: bytes) -> NoReturn:
        raise DatabaseError(f"cannot take {content!r}")


def test_a_seal_that_breaks_shows_nothing_of_what_it_held(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The innermost functions of the vault, with a bitting in hand when they fail."""
    core = make_core(cast.north, by=cast.locksmith)
    monkeypatch.setattr(vault, "_cipher_of", lambda _key: BrokenCipher())
    with pytest.raises(DatabaseError) as broken:
        vault.seal(core, "pinning", CANARY)
    assert CANARY in str(broken.value)
    with override_settings(DEBUG=True):
        page = page_of(broken)
    assert CANARY not in page
    assert "vault/services.py" in page


def page_of(broken: "pytest.ExceptionInfo[DatabaseError]") -> str:
    return technical_500_response(request(), broken.type, broken.value, broken.tb).content.decode()


@override_settings(DEBUG=True)
def test_no_setting_that_opens_anything_is_shown(db: None) -> None:
    page = technical_500_response(request(), *raised()).content.decode()
    assert settings.SECRET_KEY not in page
    password = settings.DATABASES["default"].get("PASSWORD")
    assert not password or password not in page


@pytest.mark.parametrize("kind", ["lines", "json"])
def test_a_logged_error_holds_none_either(kind: str) -> None:
    """By the formatter of the product, of our loggers and of libraries'."""
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    facts = configuration(kind)["formatters"]["plain"].copy()
    handler.setFormatter(facts.pop("()")(**facts))
    for name in ("keyctl.requests", "django.request", "weasyprint"):
        record = logging.getLogger(name).makeRecord(name, 40, __file__, 1, "it broke", (), raised())
        handler.handle(record)
    assert CANARY not in out.getvalue()
    assert out.getvalue().count("UnicodeEncodeError at") == 3


def test_a_constraint_that_quotes_what_it_refuses_is_not_shown(db: None) -> None:
    Site.objects.create(code=CANARY, name="One")
    with pytest.raises(DatabaseError) as refused, connection.cursor() as cursor:
        cursor.execute("INSERT INTO places_site SELECT * FROM places_site WHERE code = %s", [CANARY])
    with override_settings(DEBUG=True):
        page = page_of(refused)
    assert CANARY not in page


def test_a_server_and_a_worker_leave_no_dump_and_let_nobody_look_in() -> None:
    """Asked of the kernel (proc(5), getrlimit(2)) by a process that starts as they do."""
    asked = (
        "import resource, ctypes\n"
        "from keyctl.lib.dumps import refuse_dumps\n"
        "before = ctypes.CDLL(None).prctl(3, 0, 0, 0, 0)\n"
        "refuse_dumps()\n"
        "print(before, ctypes.CDLL(None).prctl(3, 0, 0, 0, 0), resource.getrlimit(resource.RLIMIT_CORE))"
    )
    done = subprocess.run(  # noqa: S603 (our own interpreter)
        [sys.executable, "-c", asked], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.split(maxsplit=2) == ["1", "0", "(0, 0)\n"]
    for name in ("wsgi.py", "jobs/management/commands/work.py", "demo/serve.py"):
        assert "refuse_dumps()" in (ROOT / "keyctl" / name).read_text()
