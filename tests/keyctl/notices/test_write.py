"""Writing a notice: with what it tells or not at all, once where once is meant, and clean."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone
from pytest_django import Settings

from keyctl.accounts.speaking import speaking
from keyctl.notices.models import Notice
from keyctl.notices.services import mail_of, send_notice, send_waiting
from keyctl.notices.services.clearing import KEPT_FOR, clear_old
from keyctl.notices.wording import one_line
from tests import factories
from tests.cast import Cast
from tests.keyctl.jobs.test_two_workers_at_once import both
from tests.keyctl.notices.conftest import Write
from tests.keyctl.notices.mailserver import Box

pytestmark = pytest.mark.django_db

ONCE: dict[str, Any] = {"to": "a@example.org", "name": "Ann", "kind": "test", "template": "test", "facts": {}}
INJECTED = "Keys\r\nBcc: everybody@example.org\r\n\r\nSend your keys to me\u2028X: y"


@pytest.fixture
def echo(tmp_path: Path, settings: Settings) -> None:
    """A template that repeats what it is given."""
    (tmp_path / "emails").mkdir()
    (tmp_path / "emails" / "echo.txt").write_text(
        "About {{ words }}\nBody: {{ words }} & {{ holder.name }}\n"
    )
    templates = [dict(settings.TEMPLATES[0])]
    templates[0]["DIRS"] = [tmp_path, *templates[0]["DIRS"]]
    settings.TEMPLATES = templates


@pytest.mark.parametrize(
    ("language", "dates", "subject"),
    [("", "iso", "en-gb 2026-11-27"), ("de", "month", "de Nov 27, 2026"), ("", "", "en-gb 27 Nov 2026")],
)
def test_a_mail_speaks_to_whoever_gets_it(
    settings: Settings, tmp_path: Path, cast: Cast, *, language: str, dates: str, subject: str
) -> None:
    """Whatever the language of whoever caused it; the day is written as the person chose."""
    (tmp_path / "emails").mkdir()
    (tmp_path / "emails" / "spoken.txt").write_text(
        "{% load i18n %}{% get_current_language as tongue %}{{ tongue }} {{ when|day }}\nBody"
    )
    settings.TEMPLATES = [{**settings.TEMPLATES[0], "DIRS": [tmp_path, *settings.TEMPLATES[0]["DIRS"]]}]
    person = cast.locksmith
    person.email, person.language, person.dates = "Ann@example.org", language, dates
    person.save()
    facts = {"facts": {"when": date(2026, 11, 27)}, "to": "ann@example.org", "template": "spoken"}
    with speaking("de" if language != "de" else "en-gb", "iso" if dates != "iso" else "month"):
        notice = send_notice(**{**ONCE, **facts}, site=cast.north)
    assert notice is not None
    assert notice.subject == subject


def test_what_is_rolled_back_leaves_no_mail(write: Write) -> None:
    def fail() -> None:
        with transaction.atomic():
            write()
            raise KeyError

    with pytest.raises(KeyError):
        fail()
    assert not Notice.objects.exists()


def test_nobody_to_mail_is_kept_and_never_sent(server: Box, write: Write, cast: Cast) -> None:
    notice = write(to=" ", about=[cast.north])
    send_waiting(timezone.now())
    notice.refresh_from_db()
    assert (notice.state, server.mails) == ("nobody", [])
    assert list(Notice.objects.about(cast.north)) == [notice]


@pytest.mark.parametrize(
    "address",
    ["ann", "ann@", "a@b.example, c@d.example", "a@b.example\nBcc: c@d.example", "<a@b.example>", "@" * 300],
)
def test_what_cannot_be_an_address_is_not_sent_to_and_says_why(
    address: str, server: Box, write: Write
) -> None:
    notice = write(to=address)
    send_waiting(timezone.now())
    notice.refresh_from_db()
    assert (notice.state, server.mails) == ("failed", [])
    assert "cannot be an e-mail address" in notice.trouble


def test_no_fact_becomes_a_header(server: Box, write: Write, echo: None, cast: Cast) -> None:
    holder = factories.make_holder(cast.north, name="A\nB")
    write(template="echo", name=INJECTED, facts={"words": INJECTED, "holder": holder})
    send_waiting(timezone.now())
    [mail] = server.mails
    assert server.recipients == ["ann@example.org"]
    assert mail["Bcc"] is None
    assert mail["X"] is None
    assert mail["Subject"] == "About Keys Bcc: everybody@example.org Send your keys to me X: y"
    assert len(mail["To"].addresses) == 1


def test_plain_text_is_not_escaped_as_a_page_is(write: Write, echo: None) -> None:
    assert "Body: Tom & Ann’s <key> &" in write(template="echo", facts={"words": "Tom & Ann’s <key>"}).body


def test_a_long_subject_is_cut_short(server: Box, write: Write, echo: None) -> None:
    notice = write(template="echo", facts={"words": "long " * 200})
    assert len(notice.subject) <= Notice.LONGEST_SUBJECT
    assert notice.subject.endswith("…")
    send_waiting(timezone.now())
    assert server.mails[0]["Subject"].strip() == notice.subject


@pytest.mark.parametrize("sign", ["\r", "\n", "\x00", "\x85", "\u2028", "\u2029", "\x0b", "\u202e"])
def test_no_sign_ends_a_line_or_turns_it_round(sign: str) -> None:
    assert one_line(f"a{sign}b") in {"a b", "ab"}


def test_what_is_told_once_is_not_written_twice(cast: Cast, write: Write) -> None:
    write(once_key="due:1:2026-11-26")
    assert send_notice(**ONCE, site=cast.north, once_key="due:1:2026-11-26") is None
    assert send_notice(**ONCE, site=cast.north) is not None
    assert Notice.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_of_two_who_write_it_at_once_one_does(write: Write, cast: Cast) -> None:
    found = both(lambda: send_notice(**ONCE, site=cast.north, once_key="same"))
    assert [notice for notice in found if notice] == list(Notice.objects.all())
    assert Notice.objects.count() == 1


def test_the_address_of_somebody_who_left_is_nobodys(cast: Cast) -> None:
    cast.desk.email = "desk@example.org"
    assert mail_of(cast.desk) == "desk@example.org"
    cast.desk.is_active = False
    assert mail_of(cast.desk) == ""
    assert mail_of(None) == ""


def test_old_mail_is_thrown_away_but_not_what_still_waits(write: Write) -> None:
    waiting, nobody, young = write(), write(to=""), write(to="")
    then = timezone.now() - KEPT_FOR
    Notice.objects.filter(pk__in=[waiting.pk, nobody.pk]).update(written_at=then)
    assert clear_old(timezone.now()) == "Messages thrown away: 1."
    assert set(Notice.objects.all()) == {waiting, young}
