import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.utils import timezone

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.recovery import services
from keyctl.recovery.models import ControlApproval
from keyctl.recovery.selectors import open_approval
from tests.keyctl.recovery.loss import Loss, fresh, now


def test_an_officer_approves_what_two_cores_agree_on(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    approval = open_approval(case)
    assert approval is not None
    assert approval.approved_by == loss.cast.officer
    assert history_of(case)[0].verb == "control_key.approved"


def test_it_refuses_before_two_cores_agree(loss: Loss) -> None:
    case = loss.case()
    loss.read(case, loss.core())
    with pytest.raises(Refused, match="nothing to approve yet"):
        loss.approve(case)


def test_it_refuses_a_second_approval_beside_the_first(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    with pytest.raises(Conflict, match="Officer has approved it already"):
        loss.approve(case)


def test_nobody_approves_the_case_that_they_opened(loss: Loss) -> None:
    case = loss.agreed()
    Membership.objects.create(user=loss.smith, site=loss.site, role=Role.OFFICER)
    with pytest.raises(Refused, match="You opened this case"):
        services.approve_control_key(actor=loss.smith, case=case, version=now(case))


def test_nobody_approves_a_core_that_they_read(loss: Loss) -> None:
    both = loss.second_smith()
    Membership.objects.create(user=both, site=loss.site, role=Role.OFFICER)
    case = loss.case()
    loss.read(case, loss.core(0))
    loss.read(case, loss.core(1), actor=both)
    with pytest.raises(Refused, match="You read one of the cores"):
        services.approve_control_key(actor=both, case=case, version=now(case))


def test_the_database_itself_forbids_approving_ones_own(loss: Loss) -> None:
    case = loss.agreed()
    with pytest.raises(IntegrityError), transaction.atomic():
        ControlApproval.objects.create(case=case, case_opened_by=case.opened_by, approved_by=case.opened_by)


def test_the_database_itself_forbids_taking_what_one_approved(loss: Loss) -> None:
    approval = open_approval(loss.approve(loss.agreed()))
    assert approval is not None
    approval.used_by, approval.used_at = approval.approved_by, timezone.now()
    with pytest.raises(IntegrityError), transaction.atomic():
        approval.save()


def test_a_further_reading_ends_the_approval(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    loss.read(case, loss.core(2))
    assert open_approval(fresh(case)) is None


def test_an_old_page_approves_nothing(loss: Loss) -> None:
    case = loss.agreed()
    seen = now(case)
    loss.read(case, loss.core(2))
    with pytest.raises(Conflict, match="Look again, then decide"):
        services.approve_control_key(actor=loss.cast.officer, case=case, version=seen)


@pytest.mark.parametrize("role", ["locksmith", "desk", "manager", "auditor", "requester", "administrator"])
def test_only_a_security_officer_approves(loss: Loss, role: str) -> None:
    case = loss.agreed()
    with pytest.raises(PermissionDenied):
        services.approve_control_key(actor=loss.cast.everybody[role], case=case, version=now(case))
