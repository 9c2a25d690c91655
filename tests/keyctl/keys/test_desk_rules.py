import hashlib
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.keys import services
from keyctl.keys.models import DeskSettings, Terms
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.models import KeySymbol
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, bare_key, sign_in

RULES = {
    "version": 1,
    "staff_days": "",
    "student_days": 90,
    "contractor_hours": 10,
    "other_days": "",
    "change_deposit": "5",
    "master_deposit": "20.50",
    "top_deposit": "",
    "control_deposit": "100.00",
    "currency": "EUR",
    "stamping": "free",
}


def test_administrators_set_them(room: KeyRoom) -> None:
    for page in ("keys:site-rules", "keys:new-terms"):
        assert answers(room.cast, page, room.site.pk) == allowed("administrator")
    with pytest.raises(PermissionDenied):
        services.change_desk_settings(actor=room.desk, site=room.site, version=1, staff_days=3)
    with pytest.raises(PermissionDenied):
        services.publish_terms(actor=room.desk, site=room.site, text="Text")


def test_the_page_keeps_what_was_typed(room: KeyRoom, client: Client) -> None:
    page = reverse("keys:site-rules", args=[room.site.pk])
    assert sign_in(client, room.cast.administrator).post(page, RULES).status_code == 302
    rules = DeskSettings.objects.get(site=room.site)
    assert (rules.staff_days, rules.student_days, rules.contractor_hours) == (None, 90, 10)
    assert (rules.change_deposit, rules.master_deposit, rules.top_deposit) == (500, 2050, 0)
    assert (rules.currency, rules.stamping) == ("EUR", "free")
    assert 'value="20.50"' in client.get(page).content.decode()


@pytest.mark.parametrize("wrong", [{"currency": "eur"}, {"master_deposit": "-1"}, {"student_days": 0}])
def test_what_cannot_be_is_said(room: KeyRoom, client: Client, wrong: dict[str, object]) -> None:
    page = reverse("keys:site-rules", args=[room.site.pk])
    assert sign_in(client, room.cast.administrator).post(page, RULES | wrong).status_code == 422


def test_an_old_page_changes_nothing(room: KeyRoom) -> None:
    facts: dict[str, Any] = {"actor": room.cast.administrator, "site": room.site, "version": 1}
    services.change_desk_settings(**facts, staff_days=3)
    with pytest.raises(Conflict, match="Somebody changed these settings"):
        services.change_desk_settings(**facts, staff_days=4)


def test_each_level_has_its_deposit_and_each_kind_its_time(room: KeyRoom) -> None:
    rules = DeskSettings(
        site=room.site, change_deposit=1, master_deposit=2, top_deposit=3, control_deposit=4, student_days=2
    )
    system, master = room.symbol.system, KeySymbol.Kind.MASTER
    control = bare_key(system, "CTR", kind=KeySymbol.Kind.CONTROL, level=None)
    top = bare_key(system, "GGM", kind=master)
    middle = KeySymbol(system=system, kind=master, level=1)
    assert [rules.deposit_for(key) for key in (room.symbol, middle, top, control)] == [1, 2, 3, 4]
    assert [rules.loan_hours(kind) for kind in ("staff", "student", "contractor")] == [None, 48, None]


def test_terms_are_versions_that_are_never_reworded(room: KeyRoom) -> None:
    facts: dict[str, Any] = {"actor": room.cast.administrator, "site": room.site}
    first = services.publish_terms(**facts, text=" Bring it back. \n")
    second = services.publish_terms(**facts, text="Bring it back at once.")
    assert (first.number, second.number, first.text) == (1, 2, "Bring it back.")
    assert first.sha256 == hashlib.sha256(b"Bring it back.").hexdigest()
    assert DeskSettings.objects.get(site=room.site).terms == second
    with pytest.raises(Refused, match="word for word"):
        services.publish_terms(**facts, text="Bring it back at once.")
    first.text = "Keep it."
    with pytest.raises(TypeError):
        first.save()
    assert Terms.objects.count() == 2
