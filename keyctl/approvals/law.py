"""Two people for every key: nobody decides their own request, and who decides a master does not hand it out.

Constraints keep that within a row. What spans rows, and whether the copies that those constraints rest on are
true, is looked at here.
"""

from collections.abc import Iterator

from django.db.models import F, Q
from django.utils.translation import gettext_noop

from keyctl.approvals.models import Grant, Step
from keyctl.lib.retold import kept_text

MASTER_OUT = kept_text(gettext_noop("Request {request_id}: who decided about a master handed it out."))
OTHER_PEOPLE = kept_text(
    gettext_noop("Request {request_id}, step {ordinal}: it names other people than the request.")
)
OWN_DECISION = kept_text(
    gettext_noop("Request {request_id}, step {ordinal}: it was decided by who asked, or for whom.")
)


def one_person_for_two() -> Iterator[str]:
    yield from _masters_out_by_deciders()
    yield from _steps_of_others()
    yield from _decided_by_askers()


def _masters_out_by_deciders() -> Iterator[str]:
    grants = Grant.objects.filter(is_master=True, handed_out_by__isnull=False)
    wrong = grants.filter(
        Q(handed_out_by=F("approved_by")) | Q(request__steps__decided_by=F("handed_out_by"))
    )
    for grant in wrong.select_related("request").order_by("pk").distinct().iterator():
        yield MASTER_OUT.format(request_id=grant.request_id)


def _steps_of_others() -> Iterator[str]:
    """A step whose copy of the asker is not the asker would let them decide it."""
    steps = Step.objects.exclude(asked_by=F("request__requester"))
    for_others = Step.objects.filter(
        Q(asked_for__isnull=True, request__holder_user__isnull=False)
        | Q(asked_for__isnull=False, request__holder_user__isnull=True)
        | (Q(asked_for__isnull=False) & ~Q(asked_for=F("request__holder_user")))
    )
    for step in (steps | for_others).order_by("pk").iterator():
        yield OTHER_PEOPLE.format(request_id=step.request_id, ordinal=step.ordinal)


def _decided_by_askers() -> Iterator[str]:
    own = Q(decided_by=F("request__requester")) | Q(decided_by=F("request__holder_user"))
    for step in Step.objects.filter(own).order_by("pk").iterator():
        yield OWN_DECISION.format(request_id=step.request_id, ordinal=step.ordinal)
