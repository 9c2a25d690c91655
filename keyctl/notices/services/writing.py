"""A notice is a row in the transaction of what it tells: kept with it or not at all."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Model
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.accounts.speaking import speaking_to_mail
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.notices.access import MAY_READ
from keyctl.notices.models import Notice, NoticeSubject
from keyctl.notices.wording import is_address, one_line, written
from keyctl.places.access import require_role
from keyctl.places.models import Site

NO_ADDRESS = gettext_lazy("“{}” cannot be an e-mail address. Correct it where the person is kept.")


def mail_of(user: User | None) -> str:
    """The address of somebody who may still sign in."""
    return user.email if user and user.is_active else ""


def send_notice(
    *,
    to: str,
    name: str,
    kind: str,
    template: str,
    facts: dict[str, Any],
    site: Site,
    about: Sequence[Model] = (),
    attachment: tuple[str, UUID] | None = None,
    once_key: str = "",
) -> Notice | None:
    """Write a message; the worker sends it. No address: the row says that nobody could be told.

    ``template`` is ``templates/emails/<template>.txt``, the subject in its first line. ``once_key`` says
    what is told once only: a second message of the same key is not written, and None returned.
    """
    to = to.strip()
    with speaking_to_mail(to):
        subject, body = written(template, {"name": name, **facts})
    notice = Notice(site=site, kind=kind, to=one_line(to, 254), name=one_line(name, 120), once_key=once_key)
    notice.subject, notice.body = one_line(subject, Notice.LONGEST_SUBJECT), body
    if attachment:
        notice.attachment_kind, notice.attachment_id = attachment
    if not to:
        notice.state = Notice.State.NOBODY
    elif not is_address(to):
        notice.state, notice.trouble = Notice.State.FAILED, NO_ADDRESS.format(one_line(to, 100))
    return _kept(notice, about)


def _kept(notice: Notice, about: Sequence[Model]) -> Notice | None:
    if notice.once_key and Notice.objects.filter(once_key=notice.once_key).exists():
        return None
    try:
        with transaction.atomic():
            notice.save(force_insert=True)
            unique = {(thing._meta.label_lower, thing.pk) for thing in about}
            NoticeSubject.objects.bulk_create(
                [NoticeSubject(notice=notice, kind=kind, subject_id=pk) for kind, pk in unique]
            )
    except IntegrityError:
        # Another worker wrote it a moment ago.
        if notice.once_key and Notice.objects.filter(once_key=notice.once_key).exists():
            return None
        raise
    return notice


@transaction.atomic
def retry_notice(*, actor: User, notice: Notice) -> Notice:
    """Send once more what was given up, as if it had just been written."""
    require_role(actor, notice.site, *MAY_READ)
    notice = Notice.objects.select_for_update(of=("self",)).select_related("site").get(pk=notice.pk)
    if notice.state != Notice.State.FAILED:
        raise Conflict(
            _("“{notice}” is {value}; only what failed is tried again.").format(
                notice=notice, value=in_sentence(notice.get_state_display())
            )
        )
    if not is_address(notice.to):
        raise Refused(NO_ADDRESS.format(notice.to))
    notice.state, notice.attempts, notice.trouble = Notice.State.WAITING, 0, ""
    notice.next_at = notice.written_at = timezone.now()
    notice.save(update_fields=["state", "attempts", "trouble", "next_at", "written_at"])
    _record(actor, notice, "retried", "asked for one more try to send")
    return notice


@transaction.atomic
def send_test(*, actor: User, site: Site) -> Notice:
    """A message to oneself, to see whether mail goes out."""
    require_role(actor, site, *MAY_READ)
    if not mail_of(actor):
        raise Refused(_("Your account has no e-mail address, so there is nowhere to send a test."))
    notice = send_notice(
        to=mail_of(actor), name=str(actor), kind="test", template="test", facts={"site": site}, site=site
    )
    assert notice is not None  # noqa: S101 (only a key written before gives none)
    _record(actor, notice, "test_sent", "sent themselves a test")
    return notice


def _record(actor: User, notice: Notice, verb: str, words: str) -> None:
    record(
        actor=actor,
        verb=f"notice.{verb}",
        sentence=f"{words} “{notice}”",
        site_id=notice.site_id,
        subjects=[notice],
        detail={"kind": notice.kind},
    )
