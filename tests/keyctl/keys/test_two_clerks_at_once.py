"""Two clerks act on one copy at the same moment, each on a connection of their own."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from keyctl.audit.models import Event
from keyctl.keys.models import Custody, Holder, KeyCopy
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom


@pytest.mark.django_db(transaction=True)
def test_one_copy_is_handed_to_one_of_two_holders(room: KeyRoom) -> None:
    copy, start = room.in_stock(), Barrier(2)

    def give(holder: Holder) -> KeyCopy | Refused:
        try:
            start.wait()
            return room.give(copy, holder)
        except Refused as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        outcomes = list(pool.map(give, [room.holder, factories.make_holder(room.site)]))
    (refusal,) = (outcome for outcome in outcomes if isinstance(outcome, Refused))
    winner = Custody.objects.get().holder
    assert f"is already out, with {winner}" in refusal.message
    assert KeyCopy.objects.get(pk=copy.pk).holder == winner
    assert Event.objects.filter(verb="key.handed_out").count() == 1
