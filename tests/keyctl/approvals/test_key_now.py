"""What was seen when keys were chosen is compared with what they open now, without choosing again."""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.approvals.proposals import key_now, proposals_for
from keyctl.cores.models import Core, Turn
from tests.keyctl.approvals.estate import Estate


def test_it_holds_as_long_as_the_keys_open_the_same_doors(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    request = estate.ask(estate.door(master))
    estate.door(master)
    (only,) = proposals_for(request)
    assert key_now(only.symbols) == only.key
    estate.door(master)
    assert key_now(only.symbols) != only.key


def test_a_core_that_went_to_another_door_ends_it(estate: Estate) -> None:
    key = estate.key("AA1")
    first, second = estate.door(key), estate.door(key)
    request = estate.ask(first)
    (only,) = proposals_for(request)
    Core.objects.filter(housing__door=second).update(place="shelf", housing=None)
    assert key_now(only.symbols) != only.key


def test_other_keys_that_open_the_same_doors_are_told_apart(estate: Estate) -> None:
    one, other = estate.key("AA1"), estate.key("AA2")
    (only,) = proposals_for(estate.ask(estate.door(one, other)))
    (left_out,) = {one, other} - set(only.symbols)
    assert key_now([left_out]) != only.key
    assert key_now([one, other]) != only.key
    assert key_now([]) != only.key


def test_one_question_suffices_however_much_the_keys_open(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    request = estate.ask(*(estate.door(estate.key(f"AA{n}"), master) for n in range(12)))
    for proposal in proposals_for(request):
        with CaptureQueriesContext(connection) as queries:
            assert key_now(proposal.symbols) == proposal.key
        assert len(queries) == 1


def test_what_a_key_does_to_the_core_matters_and_not_when(estate: Estate) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    (only,) = proposals_for(request)
    turn = Turn.objects.get(symbol=key)
    Turn.objects.filter(pk=turn.pk).update(operates=False, withdraws=True)
    assert key_now(only.symbols) != only.key
