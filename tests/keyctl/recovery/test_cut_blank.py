"""Full size: any key that turns the core is its control key on a control blank."""

import pytest
from django.core.exceptions import PermissionDenied

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.recovery import services
from keyctl.recovery.models import ControlBlankMove
from keyctl.recovery.selectors import open_approval
from keyctl.systems.services import bitting_of
from tests import factories
from tests.keyctl.recovery.loss import Loss, fresh, now
from tests.signing import proven


def test_a_working_key_of_the_core_is_chosen(full: Loss) -> None:
    case = full.chosen()
    assert case.symbol == factories.change_key(full.system)
    assert "to be copied onto a control blank" in history_of(case)[0].sentence


def test_it_refuses_a_key_that_does_not_turn_the_core(full: Loss) -> None:
    case, core = full.case(), full.core(0)
    services.choose_core(actor=full.smith, case=case, version=now(case), core=core)
    other = factories.change_key(full.system, 3)
    with pytest.raises(Refused, match="does not turn core"):
        services.choose_key(actor=full.smith, case=case, version=now(case), symbol=other)


def test_it_refuses_a_core_without_pins_on_record(full: Loss) -> None:
    case, core = full.case(), full.core(pinned=False)
    services.choose_core(actor=full.smith, case=case, version=now(case), core=core)
    with pytest.raises(Refused, match="is not pinned by the records"):
        services.choose_key(
            actor=full.smith, case=case, version=now(case), symbol=factories.change_key(full.system)
        )


def test_it_refuses_a_key_before_a_core(full: Loss) -> None:
    case = full.case()
    with pytest.raises(Refused, match="No core is chosen yet"):
        services.choose_key(
            actor=full.smith, case=case, version=now(case), symbol=factories.change_key(full.system)
        )


def test_another_core_drops_the_key_and_its_approval(full: Loss) -> None:
    case = full.approve(full.chosen())
    services.choose_core(actor=full.smith, case=case, version=now(case), core=full.core(1))
    assert fresh(case).symbol is None
    assert open_approval(case) is None


def test_cutting_takes_one_blank_from_the_register(full: Loss) -> None:
    blank = full.blanks(3)
    case = full.approve(full.chosen())
    assert full.cut(case).left == 2
    move = ControlBlankMove.objects.filter(blank=blank)[0]
    assert (move.kind, move.change, move.left, move.case, move.symbol, move.by) == (
        "cut",
        -1,
        2,
        case,
        case.symbol,
        full.smith,
    )


def test_the_key_that_is_cut_takes_the_core_out_by_its_pins(full: Loss) -> None:
    full.blanks()
    case = full.approve(full.chosen())
    cut = full.cut(case, show_cuts=True)
    assert case.core is not None
    assert cut.bitting == bitting_of(cut.symbol)
    key = engine.read_key(case.core.format_id, cut.bitting)
    assert engine.try_key(pins_of(case.core), key, blank="control").withdraws
    assert not engine.try_key(pins_of(case.core), key).withdraws


def test_the_cuts_are_not_shown_unless_asked_for(full: Loss) -> None:
    full.blanks()
    assert full.cut(full.approve(full.chosen())).bitting is None


def test_it_refuses_when_no_blank_is_in_stock(full: Loss) -> None:
    full.blanks(0)
    case = full.approve(full.chosen())
    with pytest.raises(Refused, match="Receive new ones into the register"):
        full.cut(case)
    assert open_approval(case) is not None


def test_it_refuses_where_no_register_is(full: Loss) -> None:
    case = full.approve(full.chosen())
    with pytest.raises(Refused, match="has no register of control blanks"):
        full.cut(case)


def test_it_refuses_without_a_second_person(full: Loss) -> None:
    full.blanks()
    with pytest.raises(Refused, match="A second person has to approve first"):
        full.cut(full.chosen())


def test_one_approval_cuts_one_blank(full: Loss) -> None:
    blank = full.blanks(3)
    case = full.approve(full.chosen())
    full.cut(case)
    with pytest.raises(Refused, match="A second person has to approve first"):
        full.cut(case)
    blank.refresh_from_db()
    assert blank.count == 2


def test_the_approver_does_not_cut(full: Loss) -> None:
    full.blanks()
    case = full.approve(full.chosen())
    Membership.objects.create(user=full.cast.officer, site=full.site, role=Role.LOCKSMITH)
    with pytest.raises(Refused, match="Somebody else takes it"):
        services.cut_blank(
            actor=full.cast.officer, sign_in=proven(full.cast.officer), case=case, version=now(case)
        )


def test_an_old_page_cuts_nothing(full: Loss) -> None:
    blank = full.blanks(3)
    case = full.chosen()
    seen = case.version
    full.approve(case)
    with pytest.raises(Conflict):
        services.cut_blank(actor=full.smith, sign_in=proven(full.smith), case=case, version=seen)
    blank.refresh_from_db()
    assert blank.count == 3


def test_history_names_the_copied_key_but_no_cut(full: Loss) -> None:
    full.blanks()
    case = full.approve(full.chosen())
    full.cut(case, show_cuts=True)
    shown, cut = history_of(case)[:2]
    assert f"cut {case.symbol} ({full.system.code}) onto a control blank" in cut.sentence
    assert shown.sentence == (
        f"looked at the cuts of {case.symbol} ({full.system.code}), to cut a control blank "
        "for the lost control key, with Officer"
    )
    assert case.symbol is not None
    for event in Event.objects.all():
        assert bitting_of(case.symbol) not in f"{event.sentence}{event.detail}"


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_cuts(full: Loss, role: str) -> None:
    full.blanks()
    case = full.approve(full.chosen())
    with pytest.raises(PermissionDenied):
        services.cut_blank(
            actor=full.cast.everybody[role],
            sign_in=proven(full.cast.everybody[role]),
            case=case,
            version=now(case),
        )


def test_a_sleeve_case_takes_no_blank(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    with pytest.raises(Refused, match="goes another way"):
        services.cut_blank(actor=loss.smith, sign_in=proven(loss.smith), case=case, version=now(case))
