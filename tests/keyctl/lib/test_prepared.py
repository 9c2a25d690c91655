"""Statements made into SQL once: the same answers as Django's own, whatever was asked before."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models.functions import Coalesce
from django.utils import timezone

from keyctl.accounts.models import User, WayBack
from keyctl.audit.models import Event
from keyctl.lib.inserting import insert
from keyctl.lib.prepared import Prepared, PreparedUpdate, Slot
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role
from tests import factories

pytestmark = pytest.mark.django_db


def roles() -> Prepared[Membership, str]:
    return Prepared(
        lambda: (
            Membership.objects.filter(user=Slot("user"), site=Slot("site"))
            .order_by("role")
            .values_list("role", flat=True)
        )
    )


def test_each_asking_has_its_own_values() -> None:
    north, south = factories.make_site("NORTH"), factories.make_site("SOUTH")
    user = factories.make_user("anna", site=north, role=Role.LOCKSMITH)
    Membership.objects.create(user=user, site=south, role=Role.AUDITOR)
    asked = roles()
    assert asked.rows(user=user.pk, site=north.pk) == [Role.LOCKSMITH]
    assert asked.rows(user=user.pk, site=south.pk) == [Role.AUDITOR]
    assert asked.rows(user=user.pk, site=uuid4()) == []
    assert asked.first(user=uuid4(), site=north.pk) is None
    assert asked.exists(user=user.pk, site=south.pk)
    assert not asked.exists(user=uuid4(), site=south.pk)


def test_models_come_with_what_they_were_joined_with() -> None:
    made = factories.make_housing(door=factories.make_door())
    asked = Prepared(
        lambda: type(made).objects.select_related("door__floor__building__site").filter(pk=Slot("pk"))
    )
    for _ in range(2):
        (found,) = asked.rows(pk=made.pk)
        with transaction.atomic(), connection.execute_wrapper(_nothing_more):
            assert (found, found.door.site) == (made, made.door.site)


def _nothing_more(*_asked: object) -> None:
    raise AssertionError("It asks again.")


def test_moments_are_asked_as_they_are_kept() -> None:
    user, now = factories.make_user("anna"), timezone.now()
    WayBack.objects.create(user=user, digest="d", expires_at=now)
    asked = Prepared(lambda: WayBack.objects.filter(expires_at__gte=Slot("now")))
    assert [row.expires_at for row in asked.rows(now=now)] == [now]
    assert asked.rows(now=now + timedelta(microseconds=1)) == []


def test_a_value_that_nobody_named_is_no_value() -> None:
    with pytest.raises(KeyError):
        roles().rows(user=uuid4())


def test_rows_are_set_to_what_is_told_or_made_of_it() -> None:
    north, south = factories.make_site("NORTH"), factories.make_site("SOUTH")
    named = PreparedUpdate(
        lambda: Site.objects.filter(pk=Slot("pk")), name=Coalesce(Slot("name"), "name"), code=Slot("code")
    )
    assert named.update(pk=north.pk, name="Far north", code="FAR") == 1
    assert named.update(pk=south.pk, name=None, code="LOW") == 1
    assert named.update(pk=uuid4(), name="x", code="x") == 0
    seen = Site.objects.order_by("code").values_list("code", "name")
    assert list(seen) == [("FAR", "Far north"), ("LOW", south.name)]


@pytest.mark.django_db(transaction=True)
def test_a_lock_wants_a_transaction() -> None:
    if not connection.features.has_select_for_update:
        pytest.skip("Here only one writes at a time.")
    locked = Prepared(lambda: Site.objects.select_for_update().filter(pk=Slot("pk")))
    with transaction.atomic():
        assert locked.rows(pk=uuid4()) == []
    with pytest.raises(transaction.TransactionManagementError):
        locked.rows(pk=uuid4())


def test_an_inserted_row_is_the_row_that_was_saved() -> None:
    user, now = factories.make_user("anna"), timezone.now()
    facts = {"at": now, "actor": user, "actor_name": "Anna", "verb": "tried", "sentence": "tried it"}
    inserted = Event(**facts, detail={"of": ["ä", None, 1.5]})
    insert(inserted)
    assert inserted.pk
    assert not inserted._state.adding
    found = Event.objects.get(pk=inserted.pk)
    assert {name: getattr(found, name) for name in facts} == facts
    assert (found.detail, found.site_id, found.request) == ({"of": ["ä", None, 1.5]}, None, None)


def test_the_constraints_hold_for_an_inserted_row() -> None:
    twice = User(username="anna", display_name="Anna")
    insert(twice)
    with pytest.raises(IntegrityError), transaction.atomic():
        insert(User(username="anna", display_name="Another"))
