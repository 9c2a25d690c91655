"""Sending what waits: a round of the worker. A message is claimed, handed over, and the try written down."""

import logging
import smtplib
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import groupby
from uuid import UUID

from django.conf import settings
from django.core.mail import get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import F, QuerySet
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy, gettext_noop

from keyctl.jobs.running import ending
from keyctl.lib.errors import Refused
from keyctl.lib.retold import kept_text
from keyctl.lib.traces import trace_without_values
from keyctl.notices.models import Notice, NoticeTry
from keyctl.notices.services.composing import compose
from keyctl.notices.wording import one_line

logger = logging.getLogger(__name__)

# How long after each try that failed for the moment the next one comes; after the last it is given up.
PAUSES = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 240, 720, 1440))
# A worker that died in the middle of sending leaves a claimed message; it is sent again rather than never.
CLAIM_LASTS = timedelta(minutes=10)
MOST_IN_A_ROUND = 200
MOST_IN_A_MAIL = 40
# What nobody could be told for so long is no news: it must not pour out when a server is named at last.
TOO_OLD_AFTER = timedelta(days=7)

TOO_OLD = gettext_lazy(
    "It waited a week without being sent and is no news any more. Try again if it still matters."
)

NO_SERVER = kept_text(
    gettext_noop("No mail server is named (KEYCTL_EMAIL_URL); messages that wait: {waiting}.")
)
SENT = kept_text(gettext_noop("Messages sent: {sent}, not taken: {failed}, waiting: {waiting}."))
STALE_AND_NO_SERVER = kept_text(
    gettext_noop(
        "No mail server is named (KEYCTL_EMAIL_URL); messages that wait: {waiting}, "
        "given up as too old: {stale}."
    )
)
STALE_AND_SENT = kept_text(
    gettext_noop(
        "Messages sent: {sent}, not taken: {failed}, waiting: {waiting}, given up as too old: {stale}."
    )
)


class ServerAway(Exception):
    """The mail server takes nothing at all just now: no use in trying the next message."""


def send_waiting(now: datetime) -> str:
    """The routine: send what is due, several notices of one kind to one address in one mail."""
    stale = _give_up_the_stale(now)
    if not settings.EMAIL_HOST:
        text = STALE_AND_NO_SERVER if stale else NO_SERVER
        return text.format(waiting=Notice.objects.waiting().count(), stale=stale)
    mails = _mails(Notice.objects.waiting().filter(next_at__lte=now)[:MOST_IN_A_ROUND])
    sent, failed = _send_all(mails, now) if mails else (0, 0)
    text = STALE_AND_SENT if stale else SENT
    return text.format(sent=sent, failed=failed, waiting=Notice.objects.waiting().count(), stale=stale)


def _give_up_the_stale(now: datetime) -> int:
    stale = Notice.objects.waiting().filter(written_at__lt=now - TOO_OLD_AFTER)
    return stale.update(state=Notice.State.FAILED, trouble=TOO_OLD)


def _mails(waiting: QuerySet[Notice]) -> list[list[Notice]]:
    """Which notices go together: of one kind, to one address, and no papers with them."""
    mails: list[list[Notice]] = []
    ordered = sorted(waiting, key=lambda notice: (notice.to.casefold(), notice.kind, notice.written_at))
    for _, group in groupby(ordered, key=lambda notice: (notice.to.casefold(), notice.kind)):
        notices = list(group)
        mails += [[notice] for notice in notices if notice.attachment_kind]
        plain = [notice for notice in notices if not notice.attachment_kind]
        mails += [plain[at : at + MOST_IN_A_MAIL] for at in range(0, len(plain), MOST_IN_A_MAIL)]
    return sorted(mails, key=lambda mail: mail[0].written_at)


def _send_all(mails: list[list[Notice]], now: datetime) -> tuple[int, int]:
    connection = get_connection()
    sent = failed = 0
    try:
        for mail in mails:
            if ending.is_asked:
                break
            claimed = [notice for notice in mail if _claim(notice, now)]
            if not claimed:
                continue
            is_sent = _send(connection, claimed, now)
            sent, failed = (sent + len(claimed), failed) if is_sent else (sent, failed + len(claimed))
    except ServerAway:
        failed += 1
    finally:
        _close(connection)
    return sent, failed


def _claim(notice: Notice, now: datetime) -> bool:
    """By compare-and-swap: of two workers one moves the moment and sends the message."""
    mine = Notice.objects.waiting().filter(pk=notice.pk, next_at=notice.next_at)
    return bool(mine.update(next_at=now + CLAIM_LASTS, attempts=F("attempts") + 1))


def _send(connection: BaseEmailBackend, notices: list[Notice], now: datetime) -> bool:
    """Whether the server took it; raises ``ServerAway`` where it takes nothing."""
    try:
        message = compose(connection, notices)
        # Opened here, so that what is wrong with the server is told from what is wrong with a message.
        _reach(connection)
        message.send()
    except Refused as refusal:
        return _put_off(notices, now, " ".join(refusal.sentences))
    except ServerAway as away:
        _put_off(notices, now, str(away))
        raise
    except smtplib.SMTPServerDisconnected as error:
        _put_off(notices, now, _words(error))
        raise ServerAway from error
    except (smtplib.SMTPException, OSError) as error:
        refuse = _refuse if _is_for_good(error) else _put_off
        return refuse(notices, now, _words(error))
    except Exception as error:
        logger.error("Notice %s could not be composed: %s", notices[0].pk, trace_without_values(error))
        return _put_off(notices, now, gettext("Something went wrong that the program did not expect."))
    _note(notices, NoticeTry.Outcome.SENT)
    Notice.objects.filter(pk__in=_keys(notices)).update(
        state=Notice.State.SENT, sent_at=timezone.now(), trouble=""
    )
    return True


def _reach(connection: BaseEmailBackend) -> None:
    try:
        connection.open()
    except (smtplib.SMTPException, OSError) as error:
        raise ServerAway(f"The mail server {settings.EMAIL_HOST} was not reached: {_words(error)}") from error


def _close(connection: BaseEmailBackend) -> None:
    """What was taken is taken: a server that drops the line at the farewell changes nothing."""
    try:
        connection.close()
    except (smtplib.SMTPException, OSError):
        logger.info("The mail server ended the connection by itself.")


def _is_for_good(error: BaseException) -> bool:
    """A code from 500 on about the recipient or the message; about the sender it is ours to mend."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in error.recipients.values())
    return isinstance(error, smtplib.SMTPDataError) and error.smtp_code >= 500


def _words(error: BaseException) -> str:
    """What the server said, as one line: its words come from outside."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        answers = [f"{code} {_text(words)}" for code, words in error.recipients.values()]
        return one_line("; ".join(answers), 250)
    if isinstance(error, smtplib.SMTPResponseException):
        return one_line(f"{error.smtp_code} {_text(error.smtp_error)}", 250)
    return one_line(str(error) or type(error).__name__, 250)


def _text(words: bytes | str) -> str:
    return words.decode("utf-8", "replace") if isinstance(words, bytes) else words


def _put_off(notices: Sequence[Notice], now: datetime, words: str) -> bool:
    """Tried again later; after the last pause given up."""
    for notice in notices:
        tries = notice.attempts + 1
        if tries > len(PAUSES):
            _refuse([notice], now, f"Given up after {tries} tries. {words}")
            continue
        _note([notice], NoticeTry.Outcome.LATER, words)
        Notice.objects.filter(pk=notice.pk).update(next_at=now + PAUSES[tries - 1], trouble=words[:300])
    return False


def _refuse(notices: Sequence[Notice], _now: datetime, words: str) -> bool:
    _note(notices, NoticeTry.Outcome.REFUSED, words)
    Notice.objects.filter(pk__in=_keys(notices)).update(
        state=Notice.State.FAILED, trouble=words[:300] or gettext("The mail server refused it.")
    )
    return False


def _note(notices: Sequence[Notice], outcome: NoticeTry.Outcome, words: str = "") -> None:
    NoticeTry.objects.bulk_create(
        [NoticeTry(notice=notice, outcome=outcome, words=words[:300]) for notice in notices]
    )


def _keys(notices: Sequence[Notice]) -> list[UUID]:
    return [notice.pk for notice in notices]
