"""A list with bittings takes two people: one asks, another permits, then the first has it made."""

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.jobs.models import Job
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.models import Notice
from keyctl.prints.lists.exporting import make_export
from keyctl.prints.models import Export
from keyctl.reveals.models import Permission
from keyctl.reveals.services import decline
from keyctl.systems.models import KeySystem
from tests.cast import Cast
from tests.keyctl.prints.exported import (
    REASON,
    Form,
    Kind,
    allow,
    ask,
    asked,
    lettered_system,
    made,
    vault_of,
)
from tests.signing import proven, sign_in


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return lettered_system(cast)


def test_nothing_is_made_before_a_second_person_permits_it(cast: Cast, system: KeySystem) -> None:
    export = asked(cast, system, Kind.BITTINGS, Form.WORKBOOK)
    assert not Job.objects.exists()
    with pytest.raises(Refused, match="A second person is needed"):
        make_export(actor=cast.locksmith, export=export, sign_in=proven(cast.locksmith))
    assert not Job.objects.exists()


def test_it_is_made_once_and_by_who_asked(cast: Cast, system: KeySystem) -> None:
    export = asked(cast, system, Kind.BITTINGS, Form.WORKBOOK)
    allow(cast, export)
    with pytest.raises(PermissionDenied):
        make_export(actor=cast.officer, export=export, sign_in=proven(cast.officer))
    make_export(actor=cast.locksmith, export=export, sign_in=proven(cast.locksmith))
    with pytest.raises(Conflict, match="is being made already"):
        make_export(actor=cast.locksmith, export=export, sign_in=proven(cast.locksmith))


def test_officers_and_auditors_get_mail_without_a_bitting(cast: Cast, system: KeySystem) -> None:
    made(ask(cast, system, Kind.BITTINGS, Form.PDF))
    told = Notice.objects.filter(kind="export")
    assert {notice.name for notice in told} >= {"Officer", "Auditor"}
    words = repr(list(told.values()))
    assert [bitting for bitting in vault_of(system).values() if bitting in words] == []


def test_the_page_leads_from_asking_to_having_it_made(cast: Cast, system: KeySystem, client: Client) -> None:
    sign_in(client, cast.locksmith)
    page = reverse("prints:system", args=[system.pk])
    facts = {"kind": "bitting-list", "form": "xlsx", "site": cast.north.pk, "reason": REASON}
    assert client.post(page, facts).headers["Location"] == page
    export = Export.objects.get()
    make = reverse("prints:make", args=[export.pk])
    assert make not in client.get(page).content.decode()
    allow(cast, export)
    assert make in client.get(page).content.decode()
    job_page = client.post(make).headers["Location"]
    assert job_page == reverse("jobs:detail", args=[Job.objects.get().pk])
    assert make not in client.get(page).content.decode()


def test_what_was_declined_is_asked_again(cast: Cast, system: KeySystem, client: Client) -> None:
    export = asked(cast, system, Kind.BITTINGS, Form.WORKBOOK)
    permission = Permission.objects.get(subject_id=export.pk)
    decline(actor=cast.officer, permission=permission, decision="Where would it go?")
    sign_in(client, cast.locksmith)
    page = client.get(reverse("prints:system", args=[system.pk])).content.decode()
    again = reverse("reveals:ask", args=["export", export.pk])
    assert again in page
    assert client.post(again, {"reason": "To the safe of the bank"}).status_code == 302
    assert Permission.objects.filter(subject_id=export.pk, state="asked").exists()


def test_nobody_asks_about_another_s_export(cast: Cast, system: KeySystem, client: Client) -> None:
    export = asked(cast, system, Kind.BITTINGS, Form.WORKBOOK)
    sign_in(client, cast.officer)
    assert client.get(reverse("reveals:ask", args=["export", export.pk])).status_code == 404
