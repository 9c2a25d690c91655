"""The pages of counts: who is let in, what a blind count keeps to itself, and the way without scripts."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.counts import services
from keyctl.counts.models import CabinetHandover, Count, CountCase, CountRule, CountScan
from keyctl.keys import services as keys
from tests import factories
from tests.keyctl.counts.countroom import CountRoom
from tests.keyctl.keys.keyroom import allowed, answers, count_queries, sign_in

READERS = ("locksmith", "desk", "officer", "auditor", "administrator")
HTMX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}


def page(client: Client, name: str, *args: Any, **query: str) -> str:
    response = client.get(reverse(name, args=args), query)
    assert response.status_code == 200
    return response.content.decode()


@pytest.mark.parametrize("name", ["counts:detail", "counts:case", "counts:rules"])
def test_the_staff_of_the_key_room_reads_and_nobody_else(room: CountRoom, name: str) -> None:
    case = room.missing()
    pk = {"counts:detail": case.count_id, "counts:case": case.pk, "counts:rules": room.site.pk}[name]
    assert answers(room.cast, name, pk) == allowed(*READERS)


def test_the_desk_and_locksmiths_count(room: CountRoom) -> None:
    count = room.begin()
    assert answers(room.cast, "counts:scan", count.pk) == allowed("desk", "locksmith")
    assert answers(room.cast, "counts:start", room.site.pk) == allowed("desk", "locksmith")


def test_officers_and_administrators_reach_the_form_of_a_rule(room: CountRoom) -> None:
    assert answers(room.cast, "counts:set-rule", room.site.pk) == allowed("officer", "administrator")


def test_the_witness_sees_the_count_though_their_role_reads_none(room: CountRoom, client: Client) -> None:
    count = room.begin(witness=room.cast.manager)
    sign_in(client, room.cast.manager)
    assert "I watched this count" in page(client, "counts:detail", count.pk)
    client.post(reverse("counts:witness", args=[count.pk]))
    count.refresh_from_db()
    assert count.witnessed_at is not None


def test_custodians_sign_whatever_their_role(room: CountRoom, client: Client) -> None:
    room.rule(on_new_custodian=True)
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.requester)
    handover = CabinetHandover.objects.get()
    room.close(room.begin())
    sign_in(client, room.cast.requester)
    assert "Sign as" in page(client, "counts:handover", handover.pk)
    client.post(reverse("counts:sign-handover", args=[handover.pk]))
    handover.refresh_from_db()
    assert handover.done_at is not None


def test_a_blind_count_tells_nobody_what_should_be_there(room: CountRoom, client: Client) -> None:
    here = room.stock(3)
    (elsewhere,) = room.stock(1, cabinet=room.other)
    count = room.begin()
    room.scan(count, here[0], elsewhere, "WXYZ9999")
    for person in READERS:
        client.force_login(room.cast.everybody[person])
        for name in ("counts:detail", "counts:scan"):
            text = client.get(reverse(name, args=[count.pk])).content.decode()
            assert here[1].serial not in text
            assert str(here[1]) not in text
            assert not {"Unknown serial", "Found where", "in the register"} & set(text.split("\n"))
    sign_in(client, room.desk)
    told = [
        client.post(reverse("counts:scan", args=[count.pk]), {"text": serial}, **HTMX).content.decode()
        for serial in (here[1].serial, "ZZZZ2222")
    ]
    # The answer to a key that belongs and to one that does not differ in serial, number and time alone.
    assert told[0].count("<li>") == told[1].count("<li>") == 5 or "<dd>4</dd>" in told[0]
    assert "<dd>5</dd>" in told[1]


def test_a_count_by_serial_names_what_is_sought(room: CountRoom, client: Client) -> None:
    (copy,) = room.stock(1, room.master)
    count = room.begin(scope="keys", subject="masters")
    sign_in(client, room.desk)
    text = page(client, "counts:scan", count.pk)
    assert str(copy) in text
    assert "Not yet" in text


def test_a_count_goes_from_start_to_case_without_scripts(room: CountRoom, client: Client) -> None:
    here, missing = room.stock(2)
    sign_in(client, room.desk)
    started = client.post(reverse("counts:start", args=[room.site.pk]), {"cabinet": room.cabinet.pk})
    count = Count.objects.get()
    assert started.headers["Location"] == reverse("counts:scan", args=[count.pk])
    scanned = client.post(reverse("counts:scan", args=[count.pk]), {"text": here.serial})
    assert scanned.status_code == 302
    client.post(reverse("counts:scan", args=[count.pk]), {"text": missing.serial})
    client.post(reverse("counts:undo", args=[count.pk]))
    client.post(reverse("counts:close", args=[count.pk]))
    case = CountCase.objects.get(count=count)
    facts = {"how": "overlooked", "note": "Behind the shelf", "version": case.version}
    client.post(reverse("counts:explain", args=[case.pk]), facts)
    client.post(reverse("counts:close-case", args=[case.pk]), {"version": case.version + 1})
    case.refresh_from_db()
    assert (case.serial, case.state) == (missing.serial, "closed")


def test_a_refused_scan_says_why_in_the_piece_that_is_swapped(room: CountRoom, client: Client) -> None:
    count = room.begin()
    sign_in(client, room.desk)
    response = client.post(reverse("counts:scan", args=[count.pk]), {"text": ""}, **HTMX)
    assert response.status_code == 422
    assert "Nothing was read" in response.content.decode()
    assert "<html" not in response.content.decode()


def test_a_witness_who_is_missing_is_named_on_the_form(room: CountRoom, client: Client) -> None:
    room.rule(needs_witness=True)
    sign_in(client, room.desk)
    facts = {"cabinet": room.cabinet.pk}
    response = client.post(reverse("counts:start", args=[room.site.pk]), facts)
    assert response.status_code == 422
    assert "The rule asks for a witness" in response.content.decode()


def test_a_holder_says_what_they_have_and_sees_only_their_own(room: CountRoom, client: Client) -> None:
    mine = factories.make_holder(room.site, user=room.cast.requester)
    copy, silent = (room.give(each, mine) for each in room.stock(2))
    count = Count.objects.create(
        site=room.site, number=1, scope="holder", holder=mine, reason="rule", due_on=timezone.localdate()
    )
    sign_in(client, room.cast.requester)
    assert reverse("counts:mine") in page(client, "accounts:me")
    assert reverse("counts:declare", args=[count.pk]) in page(client, "counts:mine")
    response = client.post(reverse("counts:declare", args=[count.pk]), {"copies": [copy.pk]})
    assert response.status_code == 302
    scan = CountScan.objects.get(count=count)
    assert (scan.copy, scan.way) == (copy, "declared")
    assert str(copy) not in page(client, "counts:declare", count.pk)
    assert str(silent) in page(client, "counts:declare", count.pk)
    for person in ("desk", "officer", "manager"):
        client.force_login(room.cast.everybody[person])
        assert client.get(reverse("counts:declare", args=[count.pk])).status_code == 403
        assert reverse("counts:mine") not in page(client, "accounts:me")


def test_a_set_is_adopted_and_each_value_shows_its_source(room: CountRoom, client: Client) -> None:
    sign_in(client, room.cast.officer)
    text = page(client, "counts:rules", room.site.pk)
    assert "NIST SP 800-53 Rev. 5, PE-3" in text
    assert "Your regulation decides" in text
    client.post(reverse("counts:adopt-set", args=[room.site.pk]), {"name": "army"})
    assert CountRule.objects.filter(site=room.site, interval_months=6).count() == 4


def test_a_rule_is_set_on_its_page_with_the_version_it_showed(room: CountRoom, client: Client) -> None:
    sign_in(client, room.cast.officer)
    facts = {"seen": 0, "interval_months": 3, "counters": "desk", "missing_days": 7, "retention_days": 90}
    where = reverse("counts:set-rule", args=[room.site.pk]) + "?subject=holders"
    assert client.post(where, facts).status_code == 302
    again = client.post(where, facts)
    assert again.status_code == 422
    assert "was changed while you looked" in again.content.decode()
    assert client.get(where.replace("holders", "nothing")).status_code == 404


def test_the_list_takes_no_more_questions_for_more_cabinets(room: CountRoom, client: Client) -> None:
    room.rule(made_at=timezone.now() - timedelta(days=400))
    sign_in(client, room.desk)
    few = count_queries(client, reverse("counts:list"))
    for _ in range(20):
        factories.make_cabinet(room.site)
    assert count_queries(client, reverse("counts:list")) == few
    assert "22" in page(client, "counts:list")


def test_the_lists_show_what_is_late_running_done_and_open(room: CountRoom, client: Client) -> None:
    room.rule(made_at=timezone.now() - timedelta(days=400))
    room.missing()
    room.begin(scope="cabinet", cabinet=room.other)
    sign_in(client, room.cast.auditor)
    assert "Being counted: 1" in page(client, "counts:list")
    assert "1 found" in page(client, "counts:list", show="done")
    assert str(room.other) in page(client, "counts:list", show="running")
    assert "Missing" in page(client, "counts:list", show="cases")


def test_no_page_of_a_count_names_a_key_symbol(room: CountRoom, client: Client) -> None:
    case = room.missing(room.master)
    services.explain_case(actor=room.desk, case=case, how="overlooked", note="Behind the shelf")
    sign_in(client, room.cast.auditor)
    for name, pk in [("counts:detail", case.count_id), ("counts:case", case.pk)]:
        assert f">{room.master}<" not in page(client, name, pk)
