"""Losses of the invented estate: one that ended well, one that is open, and a holder's own report."""

from keyctl.accounts.models import User
from keyctl.keys import services as keys
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.losses.models import LossCase, LostCopy
from keyctl.losses.services import add_note, call_holder, close_case, report_own_loss, tell_facts
from keyctl.losses.services.looking import look_now
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

FOUND = "Found in the lining of a coat; its holder was alone with it. The officer lets the doors be."


def build_losses(people: dict[Role, User]) -> None:
    held = KeyCopy.objects.filter(state=KeyCopy.State.HELD, symbol__kind=KeySymbol.Kind.CHANGE)
    copies = list(held.filter(holder__user__isnull=True).with_names().order_by("site__code", "serial")[:20])
    # Two keys, so that each makes a case of its own.
    first = copies[0]
    second = next(copy for copy in copies if copy.symbol_id != first.symbol_id)
    _ended(people, first)
    _open(people, second)
    _reported(people[Role.REQUESTER])


def look_again() -> None:
    """What the lost keys open follows from the turns, which the first proof of the estate stores."""
    for case in LossCase.objects.unfinished().filter(figures__cells=[]).with_names():
        look_now(case)


def _ended(people: dict[Role, User], copy: KeyCopy) -> None:
    desk, officer = people[Role.KEY_DESK], people[Role.OFFICER]
    lost = _lose(desk, copy, "Missing after a day in town")
    keys.take_back(actor=desk, copy=copy, cabinet=Cabinet.objects.filter(site=copy.site).order_by("name")[0])
    case = LossCase.objects.get(pk=lost.case_id)
    close_case(actor=officer, case=case, version=case.version, outcome=FOUND, without_proof=True)


def _open(people: dict[Role, User], copy: KeyCopy) -> None:
    desk, officer = people[Role.KEY_DESK], people[Role.OFFICER]
    holder = copy.holder
    lost = _lose(desk, copy, "Left on the tram, and the tram's office has not got it")
    tell_facts(
        actor=desk,
        lost=lost,
        where="On the tram between the station and the site",
        last_seen="In the morning, on the way to work",
        police_number="D-4711",
    )
    case = LossCase.objects.get(pk=lost.case_id)
    add_note(actor=officer, case=case, text="The porter looks in on these doors at night", kind="told")
    if isinstance(holder, Holder):
        call_holder(actor=desk, case=case, holder=holder, text="Asked again at the tram's office, in vain")


def _reported(requester: User) -> None:
    own = KeyCopy.objects.filter(state=KeyCopy.State.HELD, holder__user=requester).order_by("serial").first()
    if own:
        report_own_loss(
            actor=requester, copy=own, where="In the canteen, perhaps", note="It is not on my ring any more"
        )


def _lose(desk: User, copy: KeyCopy, note: str) -> LostCopy:
    keys.report_lost(actor=desk, copy=copy, note=note)
    return LostCopy.objects.select_related("case__site", "copy").get(copy=copy, found_at__isnull=True)
