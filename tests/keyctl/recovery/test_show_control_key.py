import pytest
from django.core.exceptions import PermissionDenied

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.recovery import services
from keyctl.vault import services as vault
from keyctl.vault.errors import Tampered
from tests.cast import Cast
from tests.keyctl.recovery.loss import Loss, fresh, now, set_up, sizes, with_other_control
from tests.signing import proven


def test_the_approved_key_is_the_systems_control_key(loss: Loss) -> None:
    key = loss.show(loss.approve(loss.agreed()))
    assert key.text == loss.control()
    assert key.is_as_recorded
    assert not key.is_open


def test_outside_a_sleeve_the_key_keeps_every_cut_that_the_cores_share(cast: Cast) -> None:
    large = set_up(cast, "large-sleeve-34")
    key = large.show(large.approve(large.agreed()))
    assert key.is_as_recorded
    assert all(sign in cuts for sign, (_, cuts) in zip(large.control(), key.columns, strict=True))
    assert [len(cuts) for _, cuts in key.columns[2:4]] == [1, 1]


def test_a_record_that_differs_is_told_without_being_shown(loss: Loss) -> None:
    case = loss.case()
    for nth in range(2):
        pins = sizes(loss.core(nth))
        by = 1 if int(pins[0][-1]) > 3 else -1
        loss.read(case, loss.core(nth), with_other_control(pins, 1, by))
    key = loss.show(loss.approve(fresh(case)))
    assert not key.is_as_recorded
    assert key.text != loss.control()


def test_it_refuses_without_a_second_person(loss: Loss) -> None:
    with pytest.raises(Refused, match="A second person has to approve first"):
        loss.show(loss.agreed())


def test_it_is_shown_once(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    loss.show(case)
    with pytest.raises(Refused, match="A second person has to approve first"):
        loss.show(case)


def test_another_approval_shows_it_again(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    first = loss.show(case).text
    assert loss.show(loss.approve(case)).text == first


def test_the_approver_does_not_look(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    Membership.objects.create(user=loss.cast.officer, site=loss.site, role=Role.LOCKSMITH)
    with pytest.raises(Refused, match="Somebody else takes it"):
        loss.show(case, actor=loss.cast.officer)


def test_a_reload_of_the_answer_shows_nothing(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    seen = now(case)
    loss.show(case)
    with pytest.raises(Conflict):
        services.show_control_key(actor=loss.smith, sign_in=proven(loss.smith), case=case, version=seen)


def test_history_keeps_the_look_even_where_the_vault_does_not_open(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    case.findings = vault.seal(loss.system, "design", "{}")
    case.save(update_fields=["findings"])
    with pytest.raises(Tampered):
        loss.show(case)
    assert history_of(case)[0].verb == "control_key.shown"


def test_the_event_names_who_approved_and_no_cut(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    loss.show(case)
    assert history_of(case)[0].detail == {"by": "work", "second": "Officer"}
    for event in Event.objects.all():
        assert loss.control() not in f"{event.sentence}{event.detail}"


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_looks(loss: Loss, role: str) -> None:
    case = loss.approve(loss.agreed())
    with pytest.raises(PermissionDenied):
        loss.show(case, actor=loss.cast.everybody[role])


def test_the_key_does_not_print_its_cuts_by_accident(loss: Loss) -> None:
    key = loss.show(loss.approve(loss.agreed()))
    assert key.columns
    assert repr(key) == "ControlKey(is_as_recorded=True)"


def test_only_the_positions_that_differ_are_shown_before_approval(loss: Loss) -> None:
    case = loss.case()
    loss.read(case, loss.core(0))
    pins = sizes(loss.core(1))
    by = 1 if int(pins[2][-1]) > 3 else -1
    loss.read(case, loss.core(1), with_other_control(pins, 3, by))
    found = services.show_differences(
        actor=loss.smith, sign_in=proven(loss.smith), case=case, version=now(case)
    )
    assert [difference.position for difference in found] == [3]
    cuts = [chamber.cuts for chamber in found[0].chambers]
    assert cuts == [(loss.control()[2],), (str(int(loss.control()[2]) + by),)]
    assert history_of(case)[0].verb == "control_key.differences_shown"
