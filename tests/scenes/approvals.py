from typing import Any

from django.utils import timezone

from keyctl.approvals.models import Grant, Substitute
from keyctl.approvals.proposals import proposals_for
from keyctl.approvals.services import add_rule, approve_request, ask_for_key
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    facts: dict[str, Any] = {"actor": base.cast.requester, "holder": base.holder}
    facts |= {"doors": [base.housing.door], "reason": "Work"}
    asked, granted = ask_for_key(**facts), ask_for_key(**facts)
    approve_request(
        actor=base.cast.manager,
        request=granted,
        version=granted.version,
        proposal=proposals_for(granted)[0].key,
        note="For the work",
    )
    rule = add_rule(
        actor=base.cast.administrator, site=base.cast.north, when="top", who="officer", silent_hours=24
    )
    today = timezone.localdate()
    substitute = Substitute.objects.create(
        site=base.cast.north,
        person=base.cast.manager,
        stands_in=base.cast.officer,
        since=today,
        until=today,
        named_by=base.cast.administrator,
    )
    return {
        "approvals:rule-add": base.cast.north.pk,
        "approvals:rules-write": base.cast.north.pk,
        "approvals:rule-change": rule.pk,
        "approvals:rule-up": rule.pk,
        "approvals:rule-remove": rule.pk,
        "approvals:substitute-name": base.cast.north.pk,
        "approvals:substitute-end": substitute.pk,
        "approvals:ask-building": base.housing.door.building.pk,
        "approvals:detail": asked.pk,
        "approvals:approve": asked.pk,
        "approvals:refuse": asked.pk,
        "approvals:withdraw": asked.pk,
        "approvals:look-again": granted.pk,
        "approvals:settings": base.cast.north.pk,
        "approvals:hand-out": Grant.objects.get(request=granted).pk,
    }
