"""From notices to one mail."""

from collections.abc import Sequence
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.utils.translation import gettext as _

from keyctl.accounts.speaking import speaking_to_mail
from keyctl.lib.errors import Refused
from keyctl.notices.attachments import find_maker
from keyctl.notices.models import Notice
from keyctl.notices.wording import one_line

RULE = "-" * 60


def compose(connection: BaseEmailBackend, notices: Sequence[Notice]) -> EmailMessage:
    """The mail of one notice, or of several to one address, in the language of whoever gets it."""
    with speaking_to_mail(notices[0].to):
        return _composed(connection, notices)


def _composed(connection: BaseEmailBackend, notices: Sequence[Notice]) -> EmailMessage:
    first = notices[0]
    host = urlsplit(settings.BASE_URL).hostname or "localhost"
    message = EmailMessage(
        subject=_subject(notices),
        body=_body(notices),
        to=[_addressed(first)],
        connection=connection,
        # RFC 3834: no holiday answers to a program. The same name at each try: readers show it once.
        headers={"Auto-Submitted": "auto-generated", "Message-ID": f"<{first.pk}@{host}>"},
    )
    if first.attachment_kind and first.attachment_id:
        maker = find_maker(first.attachment_kind)
        if maker is None:
            raise Refused(
                _("This installation no longer makes the paper “{attachment_kind}”.").format(
                    attachment_kind=first.attachment_kind
                )
            )
        name, content_type, content = maker(first.attachment_id)
        message.attach(one_line(name, 100), content, content_type)
    return message


def _addressed(notice: Notice) -> str:
    """Without signs that mean something between a name and an address."""
    name = "".join(sign for sign in notice.name if sign not in '<>",;:@\\')
    return f'"{name}" <{notice.to}>' if name else notice.to


def _subject(notices: Sequence[Notice]) -> str:
    first = notices[0].subject
    if len(notices) == 1:
        return first
    others = len(notices) - 1
    whole = _("{subject} (and {others} more)")
    room = Notice.LONGEST_SUBJECT - len(whole.format(subject="", others=others))
    return whole.format(subject=one_line(first, room), others=others)


def _body(notices: Sequence[Notice]) -> str:
    if len(notices) == 1:
        return notices[0].body
    return f"\n{RULE}\n\n".join(f"{notice.subject}\n\n{notice.body}" for notice in notices)
