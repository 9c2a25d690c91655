"""Another role for a person who is here, and the end of one."""

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.directory.access import keeps_people
from keyctl.lib.errors import Refused
from keyctl.places import services
from keyctl.places.models import BuildingManager, Membership, Site
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at
from tests import factories
from tests.cast import Cast


def test_a_person_may_hold_two_roles(cast: Cast) -> None:
    services.give_role(
        actor=cast.administrator, site=cast.north, username=cast.locksmith.username, role=Role.KEY_DESK
    )
    assert set(cast.locksmith.memberships.values_list("role", flat=True)) == {"locksmith", "key-desk"}
    assert "key desk" in history_of(cast.locksmith)[0].sentence


def test_it_refuses_whom_nobody_knows(cast: Cast) -> None:
    with pytest.raises(Refused, match="add the person first"):
        services.give_role(actor=cast.administrator, site=cast.north, username="nobody", role=Role.AUDITOR)


def test_a_program_gets_no_role_of_people(cast: Cast) -> None:
    program = factories.make_user()
    services.grant_role(actor=cast.administrator, user=program, site=cast.north, role=Role.INTEGRATION)
    with pytest.raises(Refused, match="add the person first"):
        services.give_role(
            actor=cast.administrator, site=cast.north, username=program.username, role=Role.AUDITOR
        )


def test_it_refuses_a_role_that_is_held(cast: Cast) -> None:
    name = cast.locksmith.username
    with pytest.raises(Refused, match="already"):
        services.give_role(actor=cast.administrator, site=cast.north, username=name, role=Role.LOCKSMITH)


def test_an_ended_role_opens_nothing_more(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    assert client.get(reverse("systems:list")).status_code == 200
    services.end_role(actor=cast.administrator, membership=cast.locksmith.memberships.get())
    assert client.get(reverse("systems:list")).status_code == 403
    assert "locksmith" in history_of(cast.locksmith)[0].sentence


def test_with_a_managers_role_ends_what_they_decide(cast: Cast) -> None:
    building = factories.make_floor(cast.north).building
    services.name_manager(actor=cast.administrator, building=building, username=cast.manager.username)
    services.end_role(
        actor=cast.administrator, membership=cast.manager.memberships.get(site=cast.north, role=Role.MANAGER)
    )
    assert not BuildingManager.objects.filter(user=cast.manager, building=building).exists()


def test_the_last_administrator_stays(cast: Cast) -> None:
    own = Membership.objects.get(user=cast.administrator, site=cast.north, role=Role.ADMINISTRATOR)
    Membership.objects.filter(site=cast.north, role=Role.ADMINISTRATOR).exclude(pk=own.pk).delete()
    with pytest.raises(Refused, match="last administrator"):
        services.end_role(actor=cast.administrator, membership=own)


def test_only_an_administrator_ends_roles(cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        services.end_role(actor=cast.officer, membership=cast.locksmith.memberships.get())


def test_the_pages_add_a_site_and_give_and_end_a_role(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    client.post(reverse("places:new-site"), {"code": "EAST", "name": "East site"})
    east = Site.objects.get(code="EAST")
    facts = {"site": east.pk, "username": cast.locksmith.username, "role": "auditor"}
    client.post(reverse("places:give-role"), facts)
    given = Membership.objects.get(user=cast.locksmith, site=east)
    assert client.post(reverse("places:give-role"), facts).status_code == 422
    page = client.post(reverse("places:end-role"), {"membership": given.pk}, follow=True).content.decode()
    assert "No longer" in page
    assert not Membership.objects.filter(pk=given.pk).exists()


def test_nobody_ends_a_role_at_a_site_of_others(client: Client, cast: Cast) -> None:
    theirs = Membership.objects.filter(site=cast.south).first()
    assert theirs is not None
    client.force_login(cast.administrator)
    assert client.post(reverse("places:end-role"), {"membership": theirs.pk}).status_code == 404


def test_a_new_site_takes_nothing_from_who_administers_every_site(client: Client, cast: Cast) -> None:
    """People belong to no site: whoever keeps them, administers every site, and still does."""
    keeper = factories.make_user(site=cast.north, role=Role.ADMINISTRATOR)
    Membership.objects.create(user=keeper, site=cast.south, role=Role.ADMINISTRATOR)
    assert keeps_people(keeper)
    client.force_login(cast.administrator)
    client.post(reverse("places:new-site"), {"code": "EAST", "name": "East site"})
    assert keeps_people(keeper)
    assert not keeps_people(cast.administrator)
    held = Membership.objects.filter(site__code="EAST").values_list("user__username", "role")
    assert sorted(held) == sorted((user.username, "administrator") for user in (keeper, cast.administrator))


def test_people_at_a_site_are_those_who_may_sign_in_each_once(cast: Cast) -> None:
    services.give_role(
        actor=cast.administrator, site=cast.north, username=cast.locksmith.username, role=Role.KEY_DESK
    )
    wanted = [cast.desk, cast.locksmith]
    assert list(people_at(cast.north, Role.LOCKSMITH, Role.KEY_DESK)) == wanted
    cast.desk.is_active = False
    cast.desk.save()
    assert list(people_at(Site.objects.all(), Role.LOCKSMITH)) == [cast.locksmith, cast.stranger]
    assert set(people_at(cast.north)) == set(cast.everybody.values()) - {cast.desk, cast.stranger}
