"""A key that is retired after a loss: no core is pinned to it, nobody cuts it, and it is still tried."""

import pytest
from django.utils import timezone

from keyctl.cores import services as cores
from keyctl.cores.models import Core, Turn
from keyctl.cores.waiting import keys_without_core
from keyctl.keys import services as keys
from keyctl.lib.errors import Refused
from keyctl.orders.services import open_cut_order
from keyctl.systems import services as systems
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import line_of
from tests.cast import Cast
from tests.factories import change_key, make_cabinet, make_core, make_system

pytestmark = pytest.mark.django_db


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return make_system(cast.north, actor=cast.locksmith)


def retired(symbol: KeySymbol) -> KeySymbol:
    symbol.retired_at = timezone.now()
    symbol.save(update_fields=["retired_at"])
    return symbol


def test_a_core_is_pinned_to_what_is_left_of_the_line(cast: Cast, system: KeySystem) -> None:
    own = change_key(system)
    middle = own.parent
    assert middle is not None
    assert middle.parent is not None
    top = retired(middle.parent)
    one = make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[own])
    many = cores.register_cores(actor=cast.locksmith, site=cast.north, system=system, keyings=[[own]])
    cores.pin_cores(actor=cast.locksmith, cores=many)
    own.refresh_from_db()
    assert top not in line_of(KeySymbol.objects.get(pk=own.pk))
    for core in (one, *many):
        turning = set(Turn.objects.filter(core=core, operates=True).values_list("symbol", flat=True))
        assert own.pk in turning
        assert middle.pk in turning
        assert top.pk not in turning


def test_a_new_core_is_not_keyed_to_it(cast: Cast, system: KeySystem) -> None:
    own = retired(change_key(system))
    assert own not in keys_without_core(system)
    with pytest.raises(Refused, match="retired after a loss"):
        cores.register_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[own])
    assert not Core.objects.exists()


def test_it_is_not_cut_again(cast: Cast, system: KeySystem) -> None:
    own, cabinet = retired(change_key(system)), make_cabinet(cast.north)
    with pytest.raises(Refused, match="not cut again"):
        keys.cut_copies(actor=cast.locksmith, symbol=own, site=cast.north, cabinet=cabinet, count=1)
    with pytest.raises(Refused) as refused:
        open_cut_order(actor=cast.locksmith, site=cast.north, title="More", counts={own: 1}, cabinet=cabinet)
    assert "not cut again" in " ".join(refused.value.sentences)


def test_nothing_is_added_below_it(cast: Cast, system: KeySystem) -> None:
    middle = change_key(system).parent
    assert middle is not None
    with pytest.raises(Refused, match="retired after a loss"):
        systems.plan_extension(
            actor=cast.locksmith, parent=retired(middle), kind="change", policy="sequence", count=1
        )
