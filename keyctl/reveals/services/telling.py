"""Mail about permissions. It names what was asked for, and leads to the page; it never holds what is seen."""

from django.urls import reverse
from django.utils.functional import lazy

from keyctl.accounts.models import User
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.selectors import people_at
from keyctl.reveals.access import DECIDERS
from keyctl.reveals.models import Permission


def tell_asked(permission: Permission) -> None:
    """To every officer of the site but the one who asked."""
    for officer in people_at(permission.site, *DECIDERS):
        if officer.pk != permission.asked_by_id:
            _send(permission, officer, "look_asked")


def tell_decided(permission: Permission) -> None:
    _send(permission, permission.asked_by, "look_decided")


def _send(permission: Permission, to: User, template: str) -> None:
    send_notice(
        to=mail_of(to),
        name=to.display_name,
        kind="permission",
        template=template,
        facts={
            "asker": str(permission.asked_by),
            "decider": str(permission.decided_by),
            "site": str(permission.site),
            # In the language of whoever gets the mail.
            "words": lazy(lambda: permission.said, str)(),
            "reason": permission.reason,
            "decision": permission.decision,
            "until": permission.until,
            "path": reverse("reveals:permission", args=[permission.pk]),
            "is_granted": permission.state == Permission.State.GRANTED,
        },
        site=permission.site,
        about=[permission],
        once_key=f"{template}:{permission.pk}:{to.pk}",
    )
