"""Designing on the pages: the form, the draft with its figures, and the job that makes the keys."""

import re
from typing import Any

import pytest
from django.test import Client

from keyctl.jobs.models import Job
from keyctl.systems.models import KeySystem, SystemDraft
from keyctl.systems.services import bitting_of
from keyctl.systems.services.drafting import drawn_for
from tests import factories
from tests.cast import Cast
from tests.jobs import finish

STATUS = {
    "locksmith": 200,
    "administrator": 200,
    "desk": 403,
    "manager": 403,
    "officer": 403,
    "auditor": 403,
    "requester": 403,
}


def filled(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "name": "New keys",
        "code": "NEW",
        "sites": [str(cast.north.pk)],
        "format_id": "small-a2-7",
        "keyway": "W1",
        "method": "total",
        "need_1": "4",
        "need_2": "16",
        "need_3": "256",
        **changes,
    }


@pytest.mark.parametrize("name", STATUS)
def test_each_role_gets_its_answer(client: Client, cast: Cast, name: str) -> None:
    draft = factories.make_draft(cast.north, actor=cast.locksmith)
    client.force_login(getattr(cast, name))
    for address in (
        "/systems/drafts/new/",
        f"/systems/drafts/{draft.pk}/",
        f"/systems/drafts/{draft.pk}/change/",
    ):
        assert client.get(address).status_code == STATUS[name]


def test_a_stranger_does_not_find_the_draft(client: Client, cast: Cast) -> None:
    draft = factories.make_draft(cast.north, actor=cast.locksmith)
    client.force_login(cast.stranger)
    assert client.get(f"/systems/drafts/{draft.pk}/").status_code == 404
    assert draft.code not in client.get("/systems/").content.decode()


def test_16_384_changes_are_designed_and_made_from_the_pages(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    answer = client.post("/systems/drafts/new/", filled(cast), follow=True)
    page = answer.content.decode()
    assert "Total position progression" in page
    assert "16,454 keys" in page
    assert "16,384" in page
    draft = SystemDraft.objects.get()
    assert client.post(f"/systems/drafts/{draft.pk}/make/").headers["Location"].startswith("/jobs/")
    job = finish(Job.objects.get())
    assert (job.state, job.done) == (Job.State.DONE, 16_454)
    system = KeySystem.objects.get(code="NEW")
    assert "16,384" in client.get("/systems/").content.decode()
    assert client.get(f"/systems/{system.pk}/").status_code == 200
    job_page = client.get(f"/jobs/{job.pk}/").content.decode()
    assert f"/systems/{system.pk}/" in job_page
    design = drawn_for(draft)
    assert design.tree.master.text not in page + job_page


def test_a_typed_master_and_array_never_come_back(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    secret = {"master": "1432541", "array": "3579 0268 157 04 1379 0268 579"}
    answer = client.post("/systems/drafts/new/", filled(cast, code="", **secret))
    assert answer.status_code == 422
    draft_page = client.post("/systems/drafts/new/", filled(cast, need_3="2", **secret), follow=True)
    draft = SystemDraft.objects.get()
    pages = [answer, draft_page, client.get(f"/systems/drafts/{draft.pk}/change/")]
    for page in pages:
        assert not re.search("1432541|3579", page.content.decode().replace("3579 0246", ""))
    assert drawn_for(draft).tree.array[2] == (1, 5, 7)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"need_1": ""}, "Fill the levels from the first one on"),
        ({"need_3": "", "group_3": "1"}, "on every level that has positions"),
        ({"group_1": "1"}, "every level by hand, or of none"),
        ({"group_1": "one"}, "Name positions by their numbers"),
        ({"need_3": "257"}, "256 would fit, not 257"),
        ({"method": "rotating"}, "Say for one level at least"),
        ({"array": "3579"}, "both or neither"),
        ({"sites": []}, "required"),
        ({"need_1": "", "need_2": "", "need_3": ""}, "how many keys stand below each key above"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_stored(
    client: Client, cast: Cast, changes: dict[str, Any], words: str
) -> None:
    client.force_login(cast.locksmith)
    answer = client.post("/systems/drafts/new/", filled(cast, **changes))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not SystemDraft.objects.exists()


def test_a_site_without_the_role_cannot_be_chosen(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    answer = client.post("/systems/drafts/new/", filled(cast, sites=[str(cast.south.pk)]))
    assert answer.status_code == 422


def test_a_draft_is_changed_with_what_was_typed_before(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    client.post("/systems/drafts/new/", filled(cast, group_1="1", group_2="2 3", group_3="7 6 5 4"))
    draft = SystemDraft.objects.get()
    page = client.get(f"/systems/drafts/{draft.pk}/change/").content.decode()
    assert 'value="7 6 5 4"' in page
    changed = filled(cast, need_1="3", group_1="1", group_2="2 3", group_3="7 6 5 4")
    client.post(f"/systems/drafts/{draft.pk}/change/", changed)
    draft.refresh_from_db()
    assert draft.needs == [3, 16, 256]


def test_a_draft_is_thrown_away_on_the_page(client: Client, cast: Cast) -> None:
    draft = factories.make_draft(cast.north, actor=cast.locksmith)
    client.force_login(cast.locksmith)
    assert draft.code in client.get("/systems/").content.decode()
    answer = client.post(f"/systems/drafts/{draft.pk}/discard/", follow=True)
    assert "is thrown away" in answer.content.decode()
    assert not SystemDraft.objects.exists()


def test_rotating_and_partial_are_told_by_their_names(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    few = {"need_2": "4", "need_3": ""}
    rotating = {"method": "rotating", "group_1": "1", "group_2": "5 4 3 2", "held_2": "2"}
    page = client.post("/systems/drafts/new/", filled(cast, **few, **rotating), follow=True).content.decode()
    assert "Rotating constant" in page
    assert "2 held in turn" in page
    partial = filled(cast, **few, code="PART", method="partial")
    page = client.post("/systems/drafts/new/", partial, follow=True).content.decode()
    assert "Partial position progression: 5 positions keep the master's cut throughout" in page


def test_no_page_of_a_draft_shows_what_was_drawn(client: Client, cast: Cast) -> None:
    draft = factories.make_draft(cast.north, actor=cast.locksmith)
    client.force_login(cast.locksmith)
    shown = client.get(f"/systems/drafts/{draft.pk}/").content.decode()
    design = drawn_for(draft)
    assert design.tree.master.text not in shown
    assert str(design.control) not in shown
    finish(
        Job.objects.get(pk=client.post(f"/systems/drafts/{draft.pk}/make/").headers["Location"].split("/")[2])
    )
    for symbol in KeySystem.objects.get().symbols.all():
        assert bitting_of(symbol) not in client.get(f"/systems/drafts/{draft.pk}/").content.decode()
