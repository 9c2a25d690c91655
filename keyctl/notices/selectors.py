"""Reading the mail that went out, or did not."""

from dataclasses import dataclass

from django.conf import settings
from django.db.models import Count, Model, QuerySet

from keyctl.accounts.models import User
from keyctl.notices.access import visible_notices
from keyctl.notices.models import Notice


@dataclass(frozen=True)
class Mailbox:
    """What the page of mail shows: the notices of one state, and how many there are of each."""

    state: str
    notices: QuerySet[Notice]
    counts: list[tuple[str, str, int]]
    has_server: bool


def mailbox(actor: User, state: str) -> Mailbox:
    notices = visible_notices(actor)
    counted = dict(notices.order_by().values_list("state").annotate(Count("pk")))
    counts = [(value, str(label), counted.get(value, 0)) for value, label in Notice.State.choices]
    if state in Notice.State.values:
        notices = notices.filter(state=state)
    return Mailbox(state, notices.defer("body"), counts, has_server())


def has_server() -> bool:
    return bool(settings.EMAIL_HOST)


def notices_about(thing: Model) -> QuerySet[Notice]:
    """What was mailed about a thing, newest first. The caller has fetched the thing through permission."""
    return Notice.objects.about(thing).defer("body")
