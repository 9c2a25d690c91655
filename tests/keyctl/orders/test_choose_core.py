"""The core that goes in is set aside for one door."""

import pytest
from django.core.exceptions import PermissionDenied

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import OrderLine
from tests import factories
from tests.keyctl.orders.workshop import Workshop, only_line


def choose(shop: Workshop, core: Core, line: OrderLine | None = None) -> OrderLine:
    line = line or only_line(shop.swap_order())
    return services.choose_core(actor=shop.smith, line=line, core=core)


def test_the_line_keeps_the_core(shop: Workshop) -> None:
    core = shop.core()
    line = choose(shop, core)
    line.refresh_from_db()
    assert line.core == core


def test_history_tells_it_at_the_core(shop: Workshop) -> None:
    core = shop.core()
    line = choose(shop, core)
    told = f"chose core {core} for {line.housing} in order {line.order.number}"
    assert history_of(core)[0].sentence == told


def test_another_core_may_be_chosen_instead(shop: Workshop) -> None:
    line, other = shop.swap_line(), shop.core()
    assert choose(shop, other, line).core == other


def test_a_core_set_aside_for_one_door_is_not_given_to_another(shop: Workshop) -> None:
    line = shop.swap_line()
    assert line.core is not None
    with pytest.raises(Conflict, match=f"already stands in order {line.order.number}"):
        choose(shop, line.core)


def test_it_refuses_a_core_that_is_not_pinned(shop: Workshop) -> None:
    with pytest.raises(Refused, match="not pinned yet"):
        choose(shop, shop.core(pinned=False))


def test_it_refuses_a_core_that_does_not_fit(shop: Workshop) -> None:
    line = only_line(shop.swap_order(shop.housing(construction="ordinary")))
    with pytest.raises(Refused, match="takes ordinary cores"):
        choose(shop, shop.core(), line)


def test_it_refuses_a_core_that_is_in_a_door(shop: Workshop) -> None:
    _, core = shop.furnished()
    with pytest.raises(Refused, match="is not free"):
        choose(shop, core)


def test_it_refuses_a_core_in_somebody_elses_case(shop: Workshop) -> None:
    core, colleague = shop.core(), factories.make_user("colleague")
    Core.objects.filter(pk=core.pk).update(place=Core.Place.CASE, carrier=colleague)
    with pytest.raises(Refused, match="in the case of Colleague"):
        choose(shop, core)


def test_it_takes_a_core_from_ones_own_case(shop: Workshop) -> None:
    core = shop.core()
    Core.objects.filter(pk=core.pk).update(place=Core.Place.CASE, carrier=shop.smith)
    assert choose(shop, core).core == core


def test_it_refuses_a_core_of_another_site(shop: Workshop) -> None:
    with pytest.raises(Refused, match="another site"):
        choose(shop, shop.foreign_core())


def test_it_refuses_a_line_of_a_pin_order(shop: Workshop) -> None:
    with pytest.raises(Refused, match="is there to pin cores"):
        choose(shop, shop.core(), only_line(shop.pin_order()))


def test_an_auditor_may_not_choose(shop: Workshop) -> None:
    line, core = only_line(shop.swap_order()), shop.core()
    with pytest.raises(PermissionDenied):
        services.choose_core(actor=shop.cast.auditor, line=line, core=core)
