"""Issuing several keys by one signature: due moments, deposits, terms, receipts, requests, who is first."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from keyctl.approvals.models import Grant, KeyRequest
from keyctl.audit.models import Event
from keyctl.desk.models import Tray
from keyctl.desk.services.finishing import due_moment
from keyctl.keys.models import Deposit, DeskSettings, Handover, Person
from keyctl.keys.services import publish_terms
from keyctl.lib.moments import end_of_day
from keyctl.notices.models import Notice
from keyctl.vault import services as vault
from tests import factories
from tests.keyctl.desk.counter import STROKES, Counter, act_of, words_of
from tests.keyctl.jobs.test_two_workers_at_once import both
from tests.keyctl.keys.keyroom import KeyRoom


def lay(counter: Counter, keys: int = 1) -> list[Any]:
    copies = [counter.room.in_stock() for _ in range(keys)]
    for text in (counter.room.holder.name, *copies):
        counter.scan(text)
    return copies


def test_three_keys_are_one_act_with_one_typed_signature(counter: Counter, room: KeyRoom) -> None:
    copies = lay(counter, 3)
    answer = counter.finish(signed_as="Holder One")
    act = Handover.objects.get()
    assert {act_of(copy) for copy in copies} == {act}
    assert (act.holder, act.by, act.signed_as, act.sign_way) == (
        room.holder,
        room.desk,
        "Holder One",
        "typed",
    )
    assert answer.headers["Location"].endswith(f"?done={act.pk}")
    assert str(act) in words_of(counter.client.get(answer.headers["Location"]))
    assert counter.serials == []
    assert counter.tray.taker is None
    assert Event.objects.filter(verb="key.handed_out").count() == 1


def test_a_drawn_signature_is_kept_sealed(counter: Counter) -> None:
    (copy,) = lay(counter)
    counter.finish(strokes=STROKES)
    act = act_of(copy)
    assert act.sign_way == "drawn"
    assert vault.unseal(act, "signature") == STROKES
    assert act.signature is not None
    assert STROKES.encode() not in bytes(act.signature)


@pytest.mark.parametrize(
    "strokes", ["M1 1", "M0 0L9999 9999", 'M1 1L2 2"/><script>', "M1 1 C 2 2 3 3 4 4", "url(x)"]
)
def test_what_is_no_signature_is_refused_and_the_list_stays(strokes: str, counter: Counter) -> None:
    (copy,) = lay(counter)
    answer = counter.finish(strokes=strokes)
    assert answer.status_code == 422
    assert "<script>" not in words_of(answer)
    assert counter.serials == [copy.serial]


def test_nobody_signed_and_nobody_named(counter: Counter, room: KeyRoom) -> None:
    lay(counter)
    assert "Nobody has signed" in words_of(counter.finish())
    counter.post("clear")
    counter.scan(room.in_stock())
    assert "Nobody is named yet" in words_of(counter.finish(signed_as="Ann"))
    counter.post("clear")
    assert "No key is on the list" in words_of(counter.finish(signed_as="Ann"))


def test_what_was_typed_is_still_there_after_a_refusal(counter: Counter) -> None:
    lay(counter)
    page = words_of(counter.finish(signed_as="Ann Bell", strokes="M1 1", due="4h", deposit="12.50"))
    for words in ('value="Ann Bell"', 'value="12.50"', 'value="4h" selected'):
        assert words in page


def test_a_form_that_is_sent_twice_is_done_once(counter: Counter) -> None:
    lay(counter)
    tray = counter.tray
    facts = {"version": tray.version, "act_key": tray.act_key, "signed_as": "Ann"}
    first, second = counter.finish(**facts), counter.finish(**facts)
    assert first.headers["Location"] == second.headers["Location"]
    assert Handover.objects.count() == 1


def test_a_list_that_changed_meanwhile_is_not_signed_for(counter: Counter, room: KeyRoom) -> None:
    lay(counter)
    version = counter.tray.version
    counter.scan(room.in_stock())
    answer = counter.finish(version=version, signed_as="Ann")
    assert answer.status_code == 409
    assert not Handover.objects.exists()


def test_a_key_that_went_out_meanwhile_is_named_and_the_others_stay(counter: Counter, room: KeyRoom) -> None:
    first, second = lay(counter, 2)
    room.give(first, factories.make_holder(room.site, name="Quick One"))
    page = counter.finish(signed_as="Ann")
    assert page.status_code == 422
    assert f"Copy {first} is already out, with Quick One" in words_of(page)
    assert counter.serials == [first.serial, second.serial]
    assert "is-blocked" in words_of(counter.page())


@pytest.mark.django_db(transaction=True)
def test_of_two_clerks_with_one_key_one_hands_it_out(counter: Counter, room: KeyRoom) -> None:
    from django.test import Client

    other = factories.make_user("other-clerk", site=room.site, role="key-desk")  # type: ignore[arg-type]
    client = Client()
    client.force_login(other)
    (copy,) = lay(counter)
    rival = Counter(room, client)
    for text in (room.holder.name, copy):
        rival.scan(text)
    tray = Tray.objects.get(clerk=other)
    rows = {
        counter.client: {"version": counter.tray.version, "act_key": counter.tray.act_key},
        client: {"version": tray.version, "act_key": tray.act_key},
    }
    queue = list(rows)
    codes = both(lambda: _finish(room, one := queue.pop(), rows[one]))
    assert sorted(codes) == [302, 422]
    assert Handover.objects.count() == 1


def _finish(room: KeyRoom, client: Any, facts: dict[str, Any]) -> int:
    row = {"way": "out", "due": "usual", "signed_as": "Ann", **facts}
    return int(client.post(f"/desk/sites/{room.site.pk}/finish/", row).status_code)


def test_a_person_becomes_a_holder_in_the_act(counter: Counter, room: KeyRoom) -> None:
    person = Person.objects.create(
        display_name="Ann Bell", external_id="000417", email="ann@example.org", kind="student"
    )
    copy = room.in_stock()
    for text in ("000417", copy):
        counter.scan(text)
    assert not person.holders.exists()
    assert "Becomes a holder here" in words_of(counter.page())
    counter.finish(signed_as="Ann Bell")
    holder = person.holders.get()
    assert (holder.site, holder.email, holder.kind) == (room.site, "ann@example.org", "student")
    assert act_of(copy).holder == holder


NOW = timezone.now()


@pytest.mark.parametrize(
    ("due", "moment"),
    [
        ("usual", None),
        ("today", end_of_day(timezone.localdate(NOW))),
        ("2h", NOW + timedelta(hours=2)),
        ("8h", NOW + timedelta(hours=8)),
        ("1d", end_of_day(timezone.localdate(NOW) + timedelta(days=1))),
        ("30d", end_of_day(timezone.localdate(NOW) + timedelta(days=30))),
        ("at", NOW + timedelta(days=400)),
    ],
)
def test_due_by_presets(due: str, moment: Any) -> None:
    assert due_moment(due, NOW + timedelta(days=400), NOW) == moment


def test_the_usual_due_moment_is_by_the_holders_kind(counter: Counter, room: KeyRoom) -> None:
    DeskSettings.objects.update_or_create(site=room.site, defaults={"contractor_hours": 10, "staff_days": 90})
    room.holder.kind = "contractor"
    room.holder.save()
    (copy,) = lay(counter)
    counter.finish(signed_as="Ann")
    copy.refresh_from_db()
    hours = (copy.custody.due_at - copy.custody.out_at).total_seconds() / 3600
    assert 9.99 < hours < 10.01


def test_a_day_of_ones_own_wants_the_day(counter: Counter) -> None:
    (copy,) = lay(counter)
    assert "Name the day" in words_of(counter.finish(signed_as="Ann", due="at"))
    counter.finish(signed_as="Ann", due="at", due_on="2099-03-01", due_by="14:30")
    copy.refresh_from_db()
    assert f"{timezone.localtime(copy.custody.due_at):%Y-%m-%d %H:%M}" == "2099-03-01 14:30"


def test_the_deposit_is_proposed_by_the_settings_and_may_be_another(counter: Counter, room: KeyRoom) -> None:
    DeskSettings.objects.update_or_create(
        site=room.site, defaults={"change_deposit": 2050, "currency": "EUR"}
    )
    lay(counter, 2)
    assert "41.00 EUR" in words_of(counter.page())
    counter.finish(signed_as="Ann")
    lay(counter)
    counter.finish(signed_as="Ann", deposit="5")
    lay(counter)
    counter.finish(signed_as="Ann", deposit="0")
    assert sorted(Deposit.objects.values_list("amount", "currency")) == [(500, "EUR"), (4100, "EUR")]


def test_what_is_chosen_beside_the_list_survives_a_reload(counter: Counter) -> None:
    lay(counter)
    tray = counter.tray
    facts = {"version": tray.version, "act_key": tray.act_key}
    answer = counter.post("agree", due="8h", deposit="7.25", **facts)
    assert answer.status_code == 204
    page = words_of(counter.page())
    assert 'value="8h" selected' in page
    assert 'value="7.25"' in page
    assert counter.tray.version == tray.version


def test_the_terms_that_were_shown_are_those_that_are_signed(counter: Counter, room: KeyRoom) -> None:
    old = publish_terms(actor=room.cast.administrator, site=room.site, text="Bring it back.")
    (copy,) = lay(counter)
    assert "Bring it back." in words_of(counter.page())
    new = publish_terms(actor=room.cast.administrator, site=room.site, text="Bring it back, please.")
    answer = counter.finish(signed_as="Ann", terms=old.pk)
    assert answer.status_code == 409
    assert "Bring it back, please." in words_of(answer)
    counter.finish(signed_as="Ann", terms=new.pk)
    assert act_of(copy).terms == new


def test_the_receipt_is_mailed_with_serials_only(counter: Counter, room: KeyRoom) -> None:
    room.holder.email = "ann@example.org"
    room.holder.save()
    copies = lay(counter, 2)
    counter.finish(signed_as="Ann")
    notice = Notice.objects.get()
    assert (notice.to, notice.attachment_kind) == ("ann@example.org", "receipt")
    assert notice.attachment_id == act_of(copies[0]).pk
    text = notice.subject + notice.body
    assert all(str(copy) in text for copy in copies)
    assert room.symbol.symbol not in text
    assert list(Notice.objects.about(room.holder)) == [notice]


def test_without_an_address_the_page_says_that_nobody_was_mailed(counter: Counter) -> None:
    (copy,) = lay(counter)
    counter.finish(signed_as="Ann")
    page = counter.client.get(f"/desk/acts/{act_of(copy).pk}/")
    assert "Nobody to mail" in words_of(page)


def a_ready_request(room: KeyRoom, copies: list[Any]) -> KeyRequest:
    floor = factories.make_floor(room.site)
    facts: dict[str, Any] = {"state": "ready", "ready_at": timezone.now(), "decided_at": timezone.now()}
    request = KeyRequest.objects.create(
        building=floor.building,
        holder=room.holder,
        requester=room.cast.requester,
        decided_by=room.cast.manager,
        reason="Work",
        **facts,
    )
    for copy in copies:
        Grant.objects.create(
            request=request,
            symbol=copy.symbol,
            is_master=False,
            approved_by=room.cast.manager,
            reserved_copy=copy,
        )
    return request


def test_a_request_that_is_ready_appears_with_its_holder_and_is_collected(
    counter: Counter, room: KeyRoom
) -> None:
    aside, free = room.in_stock(), room.in_stock()
    request = a_ready_request(room, [aside])
    page = words_of(counter.scan_piece(room.holder.name))
    assert "Ready to collect" in page
    assert str(aside) in page
    counter.post("ready", request=request.pk)
    counter.scan(free)
    counter.finish(signed_as="Ann")
    request.refresh_from_db()
    assert request.state == KeyRequest.State.HANDED_OUT
    assert request.grants.get().copy == aside
    assert act_of(aside) != act_of(free)
    assert {act.signed_as for act in Handover.objects.all()} == {"Ann"}


def test_a_key_set_aside_names_its_holder_by_itself(counter: Counter, room: KeyRoom) -> None:
    aside = room.in_stock()
    a_ready_request(room, [aside])
    counter.scan(aside)
    assert counter.tray.holder == room.holder
    assert counter.tray.lines.get().request is not None


def test_a_key_set_aside_for_somebody_else_is_refused(counter: Counter, room: KeyRoom) -> None:
    aside = room.in_stock()
    a_ready_request(room, [aside])
    counter.scan(factories.make_holder(room.site, name="Other One").name)
    assert counter.scan(aside).status_code == 422
    assert counter.serials == []
