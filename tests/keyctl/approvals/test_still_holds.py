"""What was seen when keys were chosen is compared with what they open now, without choosing again."""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.approvals.proposals import proposals_for, still_holds
from keyctl.cores.models import Core, Turn
from keyctl.systems.models import KeySymbol
from tests.keyctl.approvals.estate import Estate
from tests.keyctl.keys.keyroom import bare_system


def test_it_holds_as_long_as_the_keys_open_the_same_doors(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    request = estate.ask(estate.door(master))
    estate.door(master)
    (only,) = proposals_for(request)
    assert still_holds(request, only.key, only.symbols)
    estate.door(master)
    assert not still_holds(request, only.key, only.symbols)


def test_a_core_that_went_to_another_door_ends_it(estate: Estate) -> None:
    key = estate.key("AA1")
    first, second = estate.door(key), estate.door(key)
    request = estate.ask(first)
    (only,) = proposals_for(request)
    Core.objects.filter(housing__door=second).update(place="shelf", housing=None)
    assert not still_holds(request, only.key, only.symbols)


def test_other_keys_than_those_named_do_not_hold(estate: Estate) -> None:
    one, other = estate.key("AA1"), estate.key("AA2")
    request = estate.ask(estate.door(one, other))
    (only,) = proposals_for(request)
    (left_out,) = {one, other} - set(only.symbols)
    assert not still_holds(request, only.key, [left_out])
    assert not still_holds(request, only.key, [one, other])
    assert not still_holds(request, only.key, [])


def test_a_key_that_the_site_may_no_longer_give_does_not_hold(estate: Estate) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    (only,) = proposals_for(request)
    elsewhere = bare_system(estate.cast.south, actor=estate.cast.stranger)
    KeySymbol.objects.filter(pk=key.pk).update(system=elsewhere, symbol="ZZ9")
    assert not still_holds(request, only.key, only.symbols)


def test_it_asks_three_questions_however_much_the_keys_open(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    request = estate.ask(*(estate.door(estate.key(f"AA{n}"), master) for n in range(12)))
    for proposal in proposals_for(request):
        with CaptureQueriesContext(connection) as queries:
            assert still_holds(request, proposal.key, proposal.symbols)
        assert len(queries) == 3


def test_what_a_key_does_to_the_core_matters_and_not_when(estate: Estate) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    (only,) = proposals_for(request)
    turn = Turn.objects.get(symbol=key)
    Turn.objects.filter(pk=turn.pk).update(operates=False, withdraws=True)
    assert not still_holds(request, only.key, only.symbols)
