"""Fifty people move one core at the same moment, each with what they saw: one does, forty-nine are told."""

import pytest

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.services import move_core
from keyctl.lib.errors import Conflict
from keyctl.places.roles import Role
from tests import factories
from tests.together import at_once

PEOPLE, VERSIONS = 50, 3


@pytest.mark.django_db(transaction=True)
def test_each_version_has_one_winner() -> None:
    site = factories.make_site()
    people = [factories.make_user(site=site, role=Role.LOCKSMITH) for _ in range(PEOPLE)]
    system = factories.make_system(site, actor=people[0])
    core = factories.make_core(actor=people[0], site=site, system=system, pinned=False)
    places = ("bench", "shelf")
    for nth in range(VERSIONS):
        seen = Core.objects.get(pk=core.pk)
        acts = [
            lambda actor=actor, seen=seen, place=places[nth % 2]: move_core(
                actor=actor, core=seen, version=seen.version, place=place
            )
            for actor in people
        ]
        told = at_once(*acts)
        lost = [each for each in told if isinstance(each, Conflict)]
        assert (len(lost), len(told)) == (PEOPLE - 1, PEOPLE)
        # Each hears who was first.
        winner = Event.objects.filter(verb="core.moved").latest("id")
        assert all(winner.actor_name in each.message for each in lost)
        now = Core.objects.get(pk=core.pk)
        assert (now.version, now.place) == (seen.version + 1, places[nth % 2])
    assert Event.objects.filter(verb="core.moved").count() == VERSIONS
