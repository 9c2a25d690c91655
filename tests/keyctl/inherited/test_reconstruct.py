"""Looking at a reconstruction, and making a system of it."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event, EventSubject
from keyctl.cores.models import Core, Keying
from keyctl.cores.services.locking import locked_cores
from keyctl.cores.turning import KeyFamily
from keyctl.inherited.services import Asked, look_at_reconstruction, make_system
from keyctl.inherited.services.reconstructing import worked_out
from keyctl.lib.errors import Conflict, Refused
from keyctl.reveals import grounds
from keyctl.reveals.models import Reveal
from keyctl.systems.models import KeySystem
from keyctl.systems.selectors import control_of, tops_of
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.permits import let_work_name_everything, permit
from tests.signing import proven, sign_in

pytestmark = pytest.mark.django_db

TOP, CONTROL = "361492", "743810"
CHANGES = ["583614", "705278", "927830", "149056", "583678", "705214"]


def line(change: str, name: str) -> str:
    cuts = " ".join("".join(sorted({a, b})) for a, b in zip(TOP, change, strict=True))
    return f"{name}: {cuts} / {CONTROL}"


TYPED = "\n".join(line(change, f"Door {n}") for n, change in enumerate(CHANGES, 1))


def asked(cast: Cast, **facts: Any) -> Asked:
    given: dict[str, Any] = {"site": cast.north, "format_id": "small-a2-6", "typed": TYPED}
    return Asked(**given | facts)


def look(cast: Cast, given: Asked, **facts: Any) -> Any:
    said: dict[str, Any] = {"actor": cast.locksmith, "asked": given, "reason": "No papers"} | facts
    return look_at_reconstruction(**said, sign_in=proven(said["actor"]))


@pytest.fixture(autouse=True)
def a_second_person_agreed(monkeypatch: pytest.MonkeyPatch, cast: Cast) -> None:
    """Who may look is tested beside the gate, and once at the end."""
    let_work_name_everything(monkeypatch, second=cast.auditor)


def test_typed_cores_make_out_the_top_master_and_the_control_key(cast: Cast) -> None:
    found = look(cast, asked(cast)).found
    assert found.candidates[0].bitting.text == TOP
    assert found.control.bitting.text == CONTROL


def unsystemed(cast: Cast, number: int) -> tuple[list[Core], str, str]:
    """Cores of a system that the records know nothing of, with its top master and control key."""
    system = factories.make_system(
        cast.north, actor=cast.locksmith, levels=(((1, 2), 4), ((3, 4, 5, 6, 7), 40))
    )
    keys = list(system.symbols.filter(kind="change").order_by("pk")[:number])
    cores = [
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
        for key in keys
    ]
    top, control = tops_of(system)[0], control_of(system)
    assert control is not None
    Core.objects.filter(pk__in=[core.pk for core in cores]).update(system=None)
    rows = Core.objects.filter(pk__in=[core.pk for core in cores]).order_by("tag")
    return list(rows), bitting_of(top), bitting_of(control)


def test_cores_whose_pins_are_on_record_do_the_same(cast: Cast) -> None:
    cores, top, control = unsystemed(cast, 20)
    found = look(cast, asked(cast, format_id="small-a2-7", cores=cores, typed="")).found
    assert top in [candidate.bitting.text for candidate in found.candidates[:3]]
    assert found.control.bitting.text == control


def test_history_knows_who_looked_and_at_which_cores_and_no_cut(cast: Cast) -> None:
    cores, top, _ = unsystemed(cast, 3)
    look(cast, asked(cast, format_id="small-a2-7", cores=cores, typed=""))
    event = Event.objects.get(verb="inherited.reconstruction_shown")
    assert event.sentence == "looked at the system that 3 decoded cores make out: No papers"
    subjects = EventSubject.objects.filter(event=event).values_list("subject_id", flat=True)
    assert set(subjects) == {cast.north.pk, *(core.pk for core in cores)}
    assert top not in f"{event.sentence}{event.detail}"


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"typed": ""}, "Choose cores"),
        ({"typed": "Door 1 35 24"}, "cannot be read"),
        ({"typed": f"{TYPED}\n{TYPED}"}, "cannot be read"),
        ({"typed": "Door 1: 35 24"}, "cannot be read"),
        ({"typed": "Door 1: 35 24 13 46 19 2x"}, "cannot be read"),
        ({"typed": "Door 1: 35 24 13 46 19 24 / 12"}, "cannot be read"),
        ({"keys": "Ring: 12"}, "cannot be read"),
        ({"format_id": "fixed-6"}, "cannot be read"),
    ],
)
def test_what_cannot_be_read_is_refused_before_anybody_looks(
    cast: Cast, facts: dict[str, Any], words: str
) -> None:
    with pytest.raises(Refused) as refused:
        look(cast, asked(cast, **facts))
    assert words in refused.value.message
    assert not any(TOP in reason or "2x" in reason for reason in refused.value.sentences)
    assert not Event.objects.filter(verb="inherited.reconstruction_shown").exists()


def test_a_look_wants_a_reason_and_cores_of_this_site(cast: Cast) -> None:
    with pytest.raises(Refused):
        look(cast, asked(cast), reason=" ")
    away = factories.make_system(cast.south, actor=cast.stranger)
    core = factories.make_core(actor=cast.stranger, site=cast.south, system=away)
    with pytest.raises(Refused):
        look(cast, asked(cast, format_id="small-a2-7", cores=[core]))


@pytest.mark.parametrize("person", ["locksmith", "officer"])
def test_locksmiths_and_officers_may_look(cast: Cast, person: str) -> None:
    assert look(cast, asked(cast), actor=cast.everybody[person])


@pytest.mark.parametrize("person", ["desk", "manager", "auditor", "requester", "administrator", "stranger"])
def test_nobody_else_may(cast: Cast, person: str) -> None:
    with pytest.raises((PermissionDenied, Http404)):
        look(cast, asked(cast), actor=cast.everybody[person])


def made(cast: Cast, given: Asked, *, candidate: int = 0, **facts: Any) -> KeySystem:
    found = look(cast, given).found
    share = f"{found.candidates[candidate].share:.6f}"
    said: dict[str, Any] = {"actor": cast.locksmith, "asked": given, "candidate": candidate, "share": share}
    return make_system(**said | {"code": "OLD", "name": "The old house", "keyway": "WOLD"} | facts)


def test_a_candidate_becomes_a_system_with_the_keys_in_circulation(cast: Cast) -> None:
    keys = f"Ring 4: {CHANGES[0]}\nRing 9: {CHANGES[1]}\nStrange: 000000"
    system = made(cast, asked(cast, keys=keys))
    tree = {key.symbol: (bitting_of(key), str(key.parent), key.kind) for key in system.symbols.all()}
    assert tree == {
        "AA": (TOP, "None", "master"),
        "Ring 4": (CHANGES[0], "AA", "change"),
        "Ring 9": (CHANGES[1], "AA", "change"),
        "CTR": (CONTROL, "None", "control"),
    }
    assert system.levels == 2


def test_masters_between_are_made_too(cast: Cast) -> None:
    between = TOP[:2].replace("36", "58") + TOP[2:]  # turns the doors whose first two cuts are 5 and 8
    system = made(cast, asked(cast, keys=f"North: {between}\nRing: {CHANGES[0]}"))
    tree = {key.symbol: (bitting_of(key), str(key.parent), key.kind) for key in system.symbols.all()}
    assert tree["North"] == (between, "A", "master")
    assert tree["Ring"] == (CHANGES[0], "North", "change")
    assert tree["A"] == (TOP, "None", "master")


def test_cores_of_no_system_come_into_it_with_their_change_key(cast: Cast) -> None:
    cores, _, _ = unsystemed(cast, 20)
    own = {core.pk: bitting_of(core.keyings.get().symbol) for core in cores[:2]}
    Keying.objects.filter(core__in=cores).delete()
    keys = "\n".join(f"Ring {n}: {text}" for n, text in enumerate(own.values()))
    given = asked(cast, format_id="small-a2-7", cores=cores, typed="", keys=keys)
    system = made(cast, given)
    keyed = {core.pk: bitting_of(core.keyings.get().symbol) for core in system.cores.all()}
    assert keyed == own
    for core in system.cores.all():
        turning = {str(turn.symbol) for turn in core.turns.filter(symbol__system=system, operates=True)}
        assert {str(core.keyings.get().symbol), str(tops_of(system)[0])} <= turning
        assert [turn.symbol.symbol for turn in core.turns.filter(symbol__system=system, withdraws=True)] == [
            "CTR"
        ]
    assert Core.objects.filter(system=None).count() == 18


def test_a_system_is_made_by_a_locksmith_of_what_the_page_showed(cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        made(cast, asked(cast), actor=cast.officer)
    with pytest.raises(Conflict):
        made(cast, asked(cast), share="0.500000")
    made(cast, asked(cast))
    with pytest.raises(Refused):
        made(cast, asked(cast))


def test_cores_changed_while_it_is_worked_out_make_no_system(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    cores, _, _ = unsystemed(cast, 20)
    given = asked(cast, format_id="small-a2-7", cores=cores, typed="")

    def changed_meanwhile(*facts: Any) -> Any:
        Core.objects.filter(pk=cores[3].pk).update(version=cores[3].version + 1)
        return worked_out(*facts)

    monkeypatch.setattr("keyctl.inherited.services.making.worked_out", changed_meanwhile)
    before = KeySystem.objects.count()
    with pytest.raises(Conflict, match="changed since"):
        made(cast, given)
    assert KeySystem.objects.count() == before


def test_keys_that_enter_are_held_before_the_cores(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    order, hold, lock = list[str](), KeyFamily.hold, locked_cores

    def held(family: KeyFamily) -> None:
        order.append(f"keys of {family.keyway}")
        hold(family)

    def locked(pks: Iterable[UUID]) -> dict[UUID, Core]:
        order.append("cores")
        return lock(pks)

    monkeypatch.setattr(KeyFamily, "hold", held)
    monkeypatch.setattr("keyctl.inherited.services.making.locked_cores", locked)
    made(cast, asked(cast))
    assert order[:2] == ["keys of WOLD", "cores"]


def page(cast: Cast, name: str, **query: str) -> str:
    return reverse(f"inherited:{name}", args=[cast.north.pk], query=query or None)


SENT = {"format": "small-a2-6", "typed": TYPED, "reason": "No papers", "keys": f"Ring 4: {CHANGES[0]}"}


def test_the_page_shows_the_candidates_by_post_only_and_keeps_nothing(cast: Cast, client: Client) -> None:
    sign_in(client, cast.locksmith)
    assert client.get(page(cast, "reconstruct", format="small-a2-6")).status_code == 200
    assert client.get(page(cast, "found")).status_code == 405
    answer = client.post(page(cast, "found"), SENT)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "no-store" in answer.headers["Cache-Control"]
    assert TOP in text
    assert CONTROL in text
    assert "Make the system of candidate 1" in text


def test_an_officer_sees_it_and_makes_nothing(cast: Cast, client: Client) -> None:
    sign_in(client, cast.officer)
    text = client.post(page(cast, "found"), SENT).content.decode()
    assert TOP in text
    assert "Make the system" not in text
    assert client.post(page(cast, "make"), SENT).status_code == 403 or not KeySystem.objects.exists()


def test_a_slip_keeps_what_was_typed(cast: Cast, client: Client) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(page(cast, "found"), SENT | {"reason": "", "typed": "Door 1: 35"})
    assert answer.status_code == 422
    assert "Door 1: 35" in answer.content.decode()


def test_a_system_is_made_from_the_page(cast: Cast, client: Client) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(page(cast, "found"), SENT)
    maker = answer.context["makers"][0]
    values = {name: maker[name].value() for name in maker.fields}
    sent = {name: value for name, value in values.items() if value not in (None, [])}
    sent |= {"code": "OLD", "name": "The old house", "keyway": "WOLD"}
    made_it = client.post(page(cast, "make"), sent)
    system = KeySystem.objects.get(code="OLD")
    assert made_it.headers["Location"] == reverse("systems:detail", args=[system.pk])
    again = client.post(page(cast, "make"), sent)
    assert again.status_code == 422


def test_cores_on_record_take_a_second_person_and_typed_ones_do_not(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(grounds, "_sources", [])
    cores, _, _ = unsystemed(cast, 3)
    given = asked(cast, format_id="small-a2-7", cores=cores, typed="")
    with pytest.raises(Refused, match="A second person is needed"):
        look(cast, given)
    assert look(cast, asked(cast))
    permit("inherited", cast.north, to=cast.locksmith, by=cast.officer)
    assert look(cast, given)
    assert [seen.is_high for seen in Reveal.objects.order_by("at")] == [False, True]
