"""What the constraints of keys forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.keys.models import (
    Cabinet,
    Custody,
    Deposit,
    DeskSettings,
    Handover,
    Holder,
    KeyCopy,
    Person,
    Terms,
)
from tests import factories
from tests.cast import Cast


def a_copy(cast: Cast, **facts: Any) -> KeyCopy:
    system = factories.make_system(cast.north, actor=cast.administrator)
    copy = factories.make_copy(factories.change_key(system), factories.make_cabinet(cast.north))
    KeyCopy.objects.filter(pk=copy.pk).update(**facts)
    return copy


def a_held_copy_without_a_line(cast: Cast) -> None:
    a_copy(cast, state="held", cabinet=None, holder=factories.make_holder(cast.north))


def a_line_of_a_copy_in_a_cabinet(cast: Cast) -> None:
    line = a_line(cast)
    KeyCopy.objects.filter(pk=line.copy.pk).update(custody=line)


def two_copies_of_one_stamp(cast: Cast) -> None:
    for _ in range(2):
        a_copy(cast, stamp="WHITE 7")


def an_act(cast: Cast, **facts: Any) -> Handover:
    return factories.make_handover(cast.north, by=cast.desk, **facts)


def a_line(cast: Cast, **facts: Any) -> Custody:
    return factories.make_line(a_copy(cast), factories.make_holder(cast.north), by=cast.desk, **facts)


def a_copy_with_two_holders(cast: Cast) -> None:
    line = a_line(cast)
    factories.make_line(line.copy, line.holder, by=cast.desk)


def an_ended(cast: Cast, **facts: Any) -> None:
    now = timezone.now()
    row = {"out_at": now, "ended_at": now, "ended_by": cast.desk, "ending": "lost"}
    a_line(cast, **row | facts)


def two_acts_of_one_number(cast: Cast) -> None:
    for _ in range(2):
        an_act(cast, number=7)


def a_signature_that_is_not_there(cast: Cast) -> None:
    an_act(cast, sign_way="drawn")


def keys_for_nobody(cast: Cast) -> None:
    an_act(cast, holder=None)


def keys_without_a_signature(cast: Cast) -> None:
    an_act(cast, sign_way="none")


def a_deposit(cast: Cast, **facts: Any) -> None:
    Deposit.objects.create(**{"handover": an_act(cast), "amount": 100, "currency": "USD"} | facts)


def settled(cast: Cast, **facts: Any) -> None:
    a_deposit(cast, **{"settled_at": timezone.now(), "settled_by": cast.desk} | facts)


def terms(cast: Cast, times: int = 1, **facts: Any) -> None:
    row = {"site": cast.north, "number": 1, "text": "Bring it back.", "sha256": "0" * 64}
    for _ in range(times):
        Terms.objects.create(made_by=cast.administrator, **row | facts)


def settings_without_a_currency(cast: Cast) -> None:
    DeskSettings.objects.create(site=cast.north, currency="")


def persons(_cast: Cast, times: int = 2, **facts: Any) -> None:
    for _ in range(times):
        Person.objects.create(display_name="Somebody", **facts)


def persons_that_differ_by_capitals(_cast: Cast) -> None:
    for name in ("some.body", "Some.Body"):
        Person.objects.create(display_name="Somebody", user_name=name)


def two_holders_for_a_person(cast: Cast) -> None:
    person = Person.objects.create(display_name="Somebody")
    for _ in range(2):
        factories.make_holder(cast.north, person=person)


def two_holders_for_a_user(cast: Cast) -> None:
    for _ in range(2):
        Holder.objects.create(site=cast.north, name="Somebody", user=cast.requester)


def two_cabinets_of_one_name(cast: Cast) -> None:
    for _ in range(2):
        Cabinet.objects.create(site=cast.north, name="Key room")


def two_copies_of_one_serial(cast: Cast) -> None:
    serial = a_copy(cast).serial
    a_copy(cast, serial=serial)


FORBIDDEN: dict[str, Callable[[Cast], None]] = {
    "key_copy_is_in_exactly_one_state": a_held_copy_without_a_line,
    "key_copy_serial_is_unique": two_copies_of_one_serial,
    "cabinet_name_is_unique_in_its_site": two_cabinets_of_one_name,
    "key_copy_stamp_is_unique_at_its_site": two_copies_of_one_stamp,
    "key_copy_is_out_with_one_holder": a_copy_with_two_holders,
    "custody_ends_after_it_began": lambda cast: an_ended(cast, ended_at=timezone.now() - timedelta(days=1)),
    "custody_end_says_who": lambda cast: an_ended(cast, ended_by=None),
    "custody_comes_back_by_an_act": lambda cast: an_ended(cast, ending="returned"),
    "handover_number_is_unique_at_its_site": two_acts_of_one_number,
    "handover_says_who_took_the_keys": keys_for_nobody,
    "handover_is_signed_by_who_takes_keys": keys_without_a_signature,
    "handover_signature_is_as_it_says": a_signature_that_is_not_there,
    "deposit_is_some_money": lambda cast: a_deposit(cast, amount=0),
    "deposit_that_is_settled_says_by_whom": lambda cast: a_deposit(cast, state="given-back"),
    "deposit_that_is_kept_says_why": lambda cast: settled(cast, state="kept"),
    "terms_number_is_unique_at_its_site": lambda cast: terms(cast, times=2),
    "terms_have_a_text": lambda cast: terms(cast, text=""),
    "desk_settings_name_a_currency": settings_without_a_currency,
    "person_user_name_is_unique": persons_that_differ_by_capitals,
    "person_external_id_is_unique": lambda cast: persons(cast, external_id="7"),
    "person_stands_for_a_user_once": lambda cast: persons(cast, user=cast.requester),
    "holder_stands_for_a_person_once_a_site": two_holders_for_a_person,
    "holder_stands_for_a_user_once_a_site": two_holders_for_a_user,
}
