"""A person with a holder, a list of people, and somebody who leaves."""

from typing import Any

from keyctl.directory.models import DirectoryEntry
from keyctl.directory.services.lists import bring_people
from keyctl.keys.models import Person
from keyctl.leavers.models import LeaverCase
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.scenes.base import Base

OF_PERSON = ("person", "change", "leave", "return", "register", "tie")
OF_LIST = ("list-detail", "columns", "apply", "give-up", "missing")
OF_CASE = ("detail", "remind", "pause", "resume", "close", "stay")


def routes(base: Base) -> dict[str, Any]:
    person = Person.objects.create(display_name="Ada Example", user_name=base.name("ada"))
    DirectoryEntry.objects.create(person=person, source=DirectoryEntry.Source.TABLE)
    leaver = factories.make_holder(base.cast.north, name="Ben Example", person=person, is_active=False)
    case = LeaverCase.objects.create(holder=leaver, why=LeaverCase.Why.HAND)
    keeper = factories.make_user()
    sites = (base.cast.north, base.cast.south)
    Membership.objects.bulk_create(
        Membership(user=keeper, site=site, role=Role.ADMINISTRATOR) for site in sites
    )
    listed = bring_people(
        actor=keeper, name="people.csv", content=b"Name,E-mail\nAda,a@example.org", is_full=True
    )
    return {
        **{f"directory:{name}": person.pk for name in OF_PERSON},
        **{f"directory:{name}": listed.pk for name in OF_LIST},
        **{f"leavers:{name}": case.pk for name in OF_CASE},
        "leavers:announce": base.holder.pk,
        "leavers:rules": base.cast.north.pk,
    }
