"""What an administrator reads in the morning; and what the installation says of itself."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.imports.models import Import
from keyctl.notices.models import Notice
from keyctl.operations.first_page import AT_ONCE
from keyctl.operations.posture.rows import CHECKS
from keyctl.places.models import BuildingManager, Membership
from keyctl.places.roles import Role
from keyctl.vault import services as vault
from keyctl.webhooks.models import Delivery, Endpoint
from tests import factories
from tests.cast import Cast
from tests.keyctl.start.reading import block, said, words_of

IMPORTS, PLACES, MAIL = "Which imports", "Which places", "Which mail"
WEBHOOKS, NEVER, GUARDED = (
    "Which webhooks fail?",
    "Who has never signed in?",
    "Is the installation well guarded?",
)


@pytest.fixture(autouse=True)
def door(cast: Cast) -> None:
    """An installation that has begun."""
    factories.make_door(cast.north)


def bring(cast: Cast, name: str, **facts: Any) -> Import:
    made = Import(site=cast.north, kind="places", name=name, digest="x", uploaded_by=cast.locksmith, **facts)
    if facts.get("state", "uploaded") in {"uploaded", "checked"}:
        made.content = vault.seal_bytes(made, "content", b"x")
    made.save()
    return made


def test_imports_that_were_tried_and_not_taken_are_named_with_their_errors(cast: Cast) -> None:
    from keyctl.imports.access import offered_kinds

    kind = offered_kinds(cast.administrator)[0].name
    checked = bring(cast, "doors.csv", state="checked", checked_at=timezone.now(), counts={"errors": 3})
    left = bring(cast, "old.csv", state="left")
    Import.objects.filter(pk__in=[checked.pk, left.pk]).update(kind=kind)
    assert said(block(cast.administrator, IMPORTS)) == [("doors.csv", "3 errors")]


def test_buildings_without_doors_or_without_people_who_decide_are_named(cast: Cast) -> None:
    done, bare = factories.make_floor(cast.north).building, factories.make_floor(cast.north).building
    for building in (done, bare):
        BuildingManager.objects.create(building=building, user=cast.manager)
    factories.make_door(floor=done.floors.get())
    found = {line.what: line.about for line in block(cast.administrator, PLACES).lines}
    assert f"{done.code} {done.name}" not in found
    assert found[f"{bare.code} {bare.name}"] == "North site. No door is written down."
    assert "Nobody decides about requests for keys." in " ".join(found.values())


def test_a_manager_who_holds_the_role_no_more_decides_nothing(cast: Cast) -> None:
    building = factories.make_floor(cast.north).building
    factories.make_door(floor=building.floors.get())
    BuildingManager.objects.create(building=building, user=cast.manager)
    assert f"{building.code} {building.name}" not in dict(said(block(cast.administrator, PLACES)))
    Membership.objects.filter(user=cast.manager).delete()
    assert f"{building.code} {building.name}" in dict(said(block(cast.administrator, PLACES)))


def test_mail_that_was_given_up_is_told_and_what_waits_is_not(cast: Cast) -> None:
    facts: dict[str, Any] = {"site": cast.north, "kind": "test", "body": "x", "to": "x@example.org"}
    Notice.objects.create(subject="Given up", state="failed", trouble="No such address", **facts)
    Notice.objects.create(subject="On its way", **facts)
    assert said(block(cast.administrator, MAIL)) == [("Given up", "Not sent")]


def test_a_webhook_at_rest_and_messages_given_up_are_told(cast: Cast) -> None:
    facts: dict[str, Any] = {
        "url": "https://example.org/in",
        "families": "keys",
        "made_by": cast.administrator,
    }
    resting = Endpoint.objects.create(name="Resting", state="resting", rested_at=timezone.now(), **facts)
    failing, sound = (Endpoint.objects.create(name=name, **facts) for name in ("Failing", "Sound"))
    for endpoint in (resting, failing, sound):
        endpoint.sites.add(cast.north)
    Delivery.objects.create(endpoint=failing, type="test", body="{}", state="failed")
    assert said(block(cast.administrator, WEBHOOKS)) == [("Failing", "Given up"), ("Resting", "At rest")]


def test_people_who_were_let_in_and_never_came_are_named(cast: Cast) -> None:
    User.objects.update(last_login=timezone.now())
    newcomer = factories.make_user("newcomer", site=cast.north, role=Role.REQUESTER)
    factories.make_user("program", site=cast.north, role=Role.INTEGRATION)
    factories.make_user("elsewhere", site=cast.south, role=Role.REQUESTER)
    assert [line.what for line in block(cast.administrator, NEVER).lines] == [str(newcomer)]


def test_checks_that_are_not_in_order_stand_with_their_remedies(cast: Cast) -> None:
    lines = block(cast.administrator, GUARDED).lines
    assert any(
        "No folder for backups is named" in line.about and "KEYCTL_BACKUP_DIR" in line.about for line in lines
    )


def test_the_checks_made_at_once_are_checks() -> None:
    assert {check.name for check in CHECKS} >= AT_ONCE


def test_an_old_backup_is_told_first(cast: Cast, settings: Any, tmp_path: Any) -> None:
    from keyctl.operations.backup.folder import name_at

    settings.BACKUP_DIR = tmp_path
    (tmp_path / name_at(timezone.now() - timedelta(days=4))).touch()
    first = block(cast.administrator, GUARDED).lines[0]
    assert first.mark
    assert (first.what, first.mark.words) == ("Backup", "Act now")
    assert "96 hours old" in first.about


def test_an_empty_morning_is_said_in_words(cast: Cast, client: Client) -> None:
    User.objects.update(last_login=timezone.now())
    for building in {membership.site for membership in Membership.objects.filter(user=cast.administrator)}:
        for each in building.buildings.all():
            BuildingManager.objects.create(building=each, user=cast.manager)
    page = words_of(client, cast.administrator)
    for sentence in (
        "No import waits to be taken.",
        "Every building has doors, and people who decide about its keys.",
        "All mail went out.",
        "No webhook fails.",
        "Everybody who may sign in has done so.",
    ):
        assert sentence in page
