import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.keys import services
from keyctl.keys.models import Holder
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, sign_in


def test_only_the_key_desk_registers(room: KeyRoom) -> None:
    assert answers(room.cast, "keys:new-holder", room.site.pk) == allowed("desk")


def test_a_holder_need_not_sign_in(room: KeyRoom) -> None:
    holder = services.register_holder(actor=room.desk, site=room.site, name="Visitor Nine")
    assert (holder.user, holder.is_active) == (None, True)
    assert history_of(holder)[0].sentence == "registered Visitor Nine as a holder of keys at North site"


def test_an_address_is_registered_once_a_site(room: KeyRoom) -> None:
    factories.make_holder(room.site, email="nine@example.org")
    with pytest.raises(Refused, match=r"is already registered with Nine@example\.org"):
        services.register_holder(actor=room.desk, site=room.site, name="Nine", email="Nine@example.org")


def test_a_person_who_asks_becomes_a_holder_once(room: KeyRoom) -> None:
    first = services.own_holder(actor=room.cast.requester, site=room.site)
    assert services.own_holder(actor=room.cast.requester, site=room.site) == first
    assert (first.user, first.name) == (room.cast.requester, "Requester")


def test_the_page_registers(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    response = client.post(reverse("keys:new-holder", args=[room.site.pk]), {"name": "Visitor Nine"})
    assert response.status_code == 302
    assert Holder.objects.get(name="Visitor Nine").site == room.site
