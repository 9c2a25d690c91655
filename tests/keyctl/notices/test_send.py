"""Sending, against a server that speaks SMTP on a socket: taken, put off, refused, away."""

from datetime import timedelta
from functools import partial
from uuid import UUID, uuid4

import pytest
from django.utils import timezone
from pytest_django import Settings

from keyctl.lib.errors import Refused
from keyctl.notices import attachments
from keyctl.notices.models import Notice, NoticeTry
from keyctl.notices.services import register_attachment, send_waiting
from keyctl.notices.services.sending import CLAIM_LASTS, PAUSES, TOO_OLD_AFTER
from tests.keyctl.jobs.test_two_workers_at_once import both
from tests.keyctl.notices.conftest import Write
from tests.keyctl.notices.mailserver import Box

pytestmark = pytest.mark.django_db


def tries(notice: Notice) -> list[str]:
    return list(notice.tries.order_by("at").values_list("outcome", flat=True))


def test_a_message_goes_out_once(server: Box, write: Write) -> None:
    notice = write()
    now = timezone.now()
    assert send_waiting(now) == "Messages sent: 1, not taken: 0, waiting: 0."
    send_waiting(now)
    [mail] = server.mails
    notice.refresh_from_db()
    assert (notice.state, tries(notice)) == ("sent", ["sent"])
    assert (mail["Subject"], mail["To"], mail["From"]) == (
        "A test from keyctl",
        "Ann Bell <ann@example.org>",
        "Key desk <desk@example.org>",
    )
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["Message-ID"] == f"<{notice.pk}@keys.example.org>"
    assert "Hello Ann Bell," in mail.get_content()


def test_names_beyond_ascii_arrive(server: Box, write: Write) -> None:
    write(name="Zoë “Zed” Ångström, PhD", to="zoe@müller.example")
    send_waiting(timezone.now())
    assert server.mails[0]["To"].addresses[0].display_name == "Zoë “Zed” Ångström PhD"
    assert server.recipients == ["zoe@xn--mller-kva.example"]


def test_what_the_server_puts_off_is_tried_again_after_longer_and_longer_pauses(
    server: Box, write: Write
) -> None:
    notice = write()
    server.answers["ann@example.org"] = ["451 greylisted", "452 mailbox full", "250 ok"]
    now = timezone.now()
    send_waiting(now)
    notice.refresh_from_db()
    assert (notice.state, notice.next_at) == ("waiting", now + PAUSES[0])
    assert notice.trouble == "451 greylisted"
    assert send_waiting(now + PAUSES[0] - timedelta(seconds=1)).startswith("Messages sent: 0, not taken: 0")
    send_waiting(now + PAUSES[0])
    notice.refresh_from_db()
    assert notice.next_at == now + PAUSES[0] + PAUSES[1]
    send_waiting(notice.next_at)
    notice.refresh_from_db()
    assert (notice.state, notice.trouble) == ("sent", "")
    assert tries(notice) == ["later", "later", "sent"]


def test_what_is_put_off_every_time_is_given_up_in_the_end(server: Box, write: Write) -> None:
    notice = write()
    server.answers["ann@example.org"] = ["451 busy"]
    for _ in range(20):
        send_waiting(notice.next_at)
        notice.refresh_from_db()
    assert notice.state == "failed"
    assert notice.trouble == f"Given up after {len(PAUSES) + 1} tries. 451 busy"
    assert tries(notice) == ["later"] * len(PAUSES) + ["refused"]


def test_what_the_server_refuses_for_good_is_not_tried_again(server: Box, write: Write) -> None:
    notice = write()
    server.answers["ann@example.org"] = ["550 no such\x07 person"]
    send_waiting(timezone.now())
    notice.refresh_from_db()
    assert (notice.state, notice.trouble, tries(notice)) == ("failed", "550 no such person", ["refused"])


def test_a_message_refused_after_its_text_is_not_tried_again(server: Box, write: Write) -> None:
    notice = write()
    server.answers["DATA"] = ["554 looks like rubbish"]
    send_waiting(timezone.now())
    notice.refresh_from_db()
    assert (notice.state, notice.trouble) == ("failed", "554 looks like rubbish")


def test_one_refused_address_does_not_keep_others_waiting(server: Box, write: Write) -> None:
    write(to="nobody@example.org")
    write()
    server.answers["nobody@example.org"] = ["550 no such person"]
    send_waiting(timezone.now())
    assert server.recipients == ["ann@example.org"]


def test_a_refused_sender_is_ours_to_mend_so_the_message_waits(server: Box, write: Write) -> None:
    notice = write()
    server.answers["MAIL"] = ["550 not from you"]
    send_waiting(timezone.now())
    notice.refresh_from_db()
    assert (notice.state, notice.trouble) == ("waiting", "550 not from you")


def test_a_server_that_is_away_ends_the_round_and_spends_no_tries_of_the_others(
    server: Box, write: Write, settings: Settings
) -> None:
    first, second = write(), write(to="bob@example.org")
    settings.EMAIL_PORT = 1  # nobody listens there
    assert send_waiting(timezone.now()) == "Messages sent: 0, not taken: 1, waiting: 2."
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.attempts, second.attempts) == (1, 0)
    assert first.trouble.startswith("The mail server 127.0.0.1 was not reached: ")


def test_several_of_one_kind_to_one_address_become_one_mail(server: Box, write: Write) -> None:
    write()
    write(to="Ann@example.org")
    write(kind="other")
    write(to="bob@example.org")
    send_waiting(timezone.now())
    subjects = sorted((mail["To"].addresses[0].addr_spec.lower(), mail["Subject"]) for mail in server.mails)
    assert subjects == [
        ("ann@example.org", "A test from keyctl"),
        ("ann@example.org", "A test from keyctl (and 1 more)"),
        ("bob@example.org", "A test from keyctl"),
    ]
    digest = next(mail for mail in server.mails if "more" in mail["Subject"])
    assert digest.get_content().count("Hello Ann Bell,") == 2
    assert set(Notice.objects.values_list("state", flat=True)) == {"sent"}


def test_no_server_named_keeps_the_mail_and_says_so(write: Write, settings: Settings) -> None:
    settings.EMAIL_HOST = ""
    notice = write()
    assert send_waiting(timezone.now()) == (
        "No mail server is named (KEYCTL_EMAIL_URL); messages that wait: 1."
    )
    notice.refresh_from_db()
    assert (notice.state, notice.attempts, NoticeTry.objects.count()) == ("waiting", 0, 0)


def test_what_waited_too_long_for_a_server_does_not_pour_out(server: Box, write: Write) -> None:
    notice = write()
    Notice.objects.update(written_at=timezone.now() - TOO_OLD_AFTER - timedelta(seconds=1))
    send_waiting(timezone.now())
    notice.refresh_from_db()
    assert notice.state == "failed"
    assert "no news any more" in notice.trouble
    assert server.mails == []


@pytest.fixture
def papers(monkeypatch: pytest.MonkeyPatch) -> dict[str, UUID]:
    monkeypatch.setattr(attachments, "_makers", {})
    asked: dict[str, UUID] = {}

    def make(pk: UUID) -> tuple[str, str, bytes]:
        asked["pk"] = pk
        return "receipt\r\nX: y.pdf", "application/pdf", b"%PDF-paper"

    register_attachment("receipt", make)
    return asked


def test_a_paper_is_made_when_the_message_is_sent(server: Box, write: Write, papers: dict[str, UUID]) -> None:
    pk = uuid4()
    write(attachment=("receipt", pk))
    assert papers == {}
    send_waiting(timezone.now())
    assert papers == {"pk": pk}
    [paper] = server.mails[0].iter_attachments()
    assert (paper.get_filename(), paper.get_content_type()) == ("receipt X: y.pdf", "application/pdf")
    assert paper.get_content() == b"%PDF-paper"


def test_a_paper_that_is_refused_puts_the_message_off_with_its_sentence(server: Box, write: Write) -> None:
    def refuse(_pk: UUID) -> tuple[str, str, bytes]:
        raise Refused("The vault is sealed.")

    register_attachment("refused", refuse)
    notice = write(attachment=("refused", uuid4()))
    other = write(attachment=("unknown", uuid4()))
    send_waiting(timezone.now())
    notice.refresh_from_db()
    other.refresh_from_db()
    assert (notice.state, notice.trouble) == ("waiting", "The vault is sealed.")
    assert other.trouble == "This installation no longer makes the paper “unknown”."
    assert server.mails == []


def test_a_message_that_a_dead_worker_claimed_is_sent_after_a_while(server: Box, write: Write) -> None:
    notice = write()
    now = timezone.now()
    Notice.objects.filter(pk=notice.pk).update(next_at=now + CLAIM_LASTS, attempts=1)
    send_waiting(now)
    assert server.mails == []
    send_waiting(now + CLAIM_LASTS)
    assert len(server.mails) == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_workers_one_sends_each_message(server: Box, write: Write) -> None:
    for number in range(5):
        write(to=f"p{number}@example.org")
    both(partial(send_waiting, timezone.now()))
    assert sorted(server.recipients) == [f"p{number}@example.org" for number in range(5)]
