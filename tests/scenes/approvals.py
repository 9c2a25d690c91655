from typing import Any

from keyctl.approvals.models import Grant
from keyctl.approvals.proposals import proposals_for
from keyctl.approvals.services import approve_request, ask_for_key
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
    return {
        "approvals:ask-building": base.housing.door.building.pk,
        "approvals:detail": asked.pk,
        "approvals:approve": asked.pk,
        "approvals:refuse": asked.pk,
        "approvals:withdraw": asked.pk,
        "approvals:hand-out": Grant.objects.get(request=granted).pk,
    }
