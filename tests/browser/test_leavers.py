"""Somebody is missing from a list of people, and somebody is gone by an identity provider: their keys."""

import re
from collections.abc import Callable

from django.utils import timezone
from playwright.sync_api import expect

from keyctl.accounts.models import User
from keyctl.directory.models import DirectoryEntry
from keyctl.jobs.models import Job
from keyctl.keys.models import Holder, KeyCopy, Person
from keyctl.leavers.models import LeaverCase
from keyctl.leavers.services import look_after
from keyctl.places.models import Site
from tests.browser.conftest import Tablet
from tests.jobs import finish
from tests.scim.provider import PATCH, TYPE, make_provider

Source = DirectoryEntry.Source


def with_keys(source: DirectoryEntry.Source) -> Person:
    """Somebody who came from there and holds keys."""
    site = Site.objects.order_by("code")[0]
    holders = Holder.objects.filter(site=site, is_active=True, copies__isnull=False, leaver_cases=None)
    person = Person.objects.filter(entry__source=source, is_active=True, holders__in=holders).distinct()[0]
    Person.objects.filter(pk=person.pk).update(email="leaver@example.org")
    Holder.objects.filter(person=person).update(email="leaver@example.org")
    return person


def full_list_without(person: Person) -> bytes:
    others = Person.objects.filter(entry__source=Source.TABLE, is_active=True).exclude(pk=person.pk)
    rows = [f"{each.external_id},{each.display_name}" for each in others]
    return "\n".join(["Identifier,Name", *rows]).encode()


def bring(tablet: Tablet, content: bytes) -> None:
    tablet.go("/directory/lists/bring/")
    tablet.page.get_by_label("The list").set_input_files(
        {"name": "people.csv", "mimeType": "text/csv", "buffer": content}
    )
    tablet.page.get_by_label("It is a full list", exact=False).check()
    tablet.page.get_by_role("button", name="Bring it in").click()
    tablet.page.get_by_role("button", name=re.compile("^Apply")).click()
    expect(tablet.page.get_by_role("heading", level=1)).to_contain_text("people.csv")
    finish(Job.objects.filter(kind="directory.apply-list").latest("asked_at"))


def take_back_all(tablet: Tablet, holder: Holder) -> None:
    for copy in KeyCopy.objects.filter(holder=holder):
        tablet.go(f"/keys/copies/{copy.pk}/take-back/")
        tablet.page.get_by_role("button", name="Take the key back").click()
        expect(tablet.page.locator("main")).to_contain_text("is back in its cabinet")


def test_from_a_list_and_from_a_provider_to_keys_that_are_back(
    estate: None, open_tablet: Callable[..., Tablet]
) -> None:
    leaver = with_keys(Source.TABLE)
    administrator, desk = open_tablet(), open_tablet()
    administrator.sign_in("administrator")
    bring(administrator, full_list_without(leaver))
    administrator.go("/directory/lists/")
    administrator.page.get_by_role("link", name="people.csv").click()
    administrator.page.get_by_label(leaver.display_name, exact=True).check()
    administrator.page.get_by_role("button", name="The ticked have left").click()
    expect(administrator.page.locator("main")).to_contain_text("One person has left")

    case = LeaverCase.objects.get(holder__person=leaver, state="open")
    desk.sign_in("key-desk")
    desk.go("/leavers/")
    desk.page.get_by_role("link", name=leaver.display_name, exact=True).click()
    expect(desk.page.get_by_text("Keys out").first).to_be_visible()
    look_after(timezone.now())
    administrator.go("/notices/")
    expect(administrator.page.locator("main")).to_contain_text("Please bring back your keys")
    take_back_all(desk, case.holder)
    desk.go(f"/leavers/cases/{case.pk}/")
    expect(desk.page.locator("main")).to_contain_text("All keys are back or accounted for")
    case.refresh_from_db()
    assert case.outcome == LeaverCase.Outcome.BACK

    gone = with_keys(Source.SCIM)
    provider = make_provider(User.objects.get(username="administrator"))
    answer = desk.page.request.patch(
        f"{desk.url}/scim/v2/Users/{gone.pk}",
        headers={"Authorization": f"Bearer {provider.bearer}", "Content-Type": TYPE},
        data={"schemas": [PATCH], "Operations": [{"op": "Replace", "path": "active", "value": "False"}]},
    )
    assert answer.status == 200, answer.text()
    assert answer.json()["active"] is False
    desk.go("/leavers/")
    expect(desk.page.get_by_role("link", name=gone.display_name, exact=True)).to_be_visible()
    assert [tablet.complaints for tablet in (administrator, desk)] == [[], []]
