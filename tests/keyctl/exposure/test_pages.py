"""The pages of exposure: who sees what, and what they say."""

import re
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core, Turn
from keyctl.exposure.models import CoreExposure, IncidentalCount
from keyctl.exposure.services import look_closer
from keyctl.places.roles import Role
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.keyctl.exposure.test_assess_site import Assessed, assessed, keys_of
from tests.permits import permit
from tests.signing import proven, sign_in

__all__ = ["assessed"]

WHY = {"reason": "after a key was lost"}


def page(client: Client, name: str, pk: object = None) -> str:
    answer = client.get(reverse(f"exposure:{name}", kwargs={"pk": pk} if pk else None))
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("name", ["locksmith", "officer", "auditor"])
def test_those_who_answer_for_cores_see_the_figures(name: str, assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.everybody[name])
    core = assessed.cores[0]
    found = CoreExposure.objects.get(core=core)
    for text in (
        page(client, "estate"),
        page(client, "site", assessed.cast.north.pk),
        page(client, "system", assessed.system.pk),
        page(client, "core", core.pk),
    ):
        assert f"{found.accepts}" in text
        assert str(core) in text


@pytest.mark.parametrize("name", ["desk", "manager", "administrator", "requester"])
def test_everybody_else_is_turned_away(name: str, assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.everybody[name])
    for place, pk in (
        ("estate", None),
        ("site", assessed.cast.north.pk),
        ("system", assessed.system.pk),
        ("core", assessed.cores[0].pk),
    ):
        assert client.get(reverse(f"exposure:{place}", kwargs={"pk": pk} if pk else None)).status_code == 403


def test_the_block_on_the_core_page_is_for_the_same_people(assessed: Assessed, client: Client) -> None:
    address = reverse("cores:detail", kwargs={"pk": assessed.cores[0].pk})
    shown = {}
    for name in ("locksmith", "auditor", "desk", "manager"):
        sign_in(client, assessed.cast.everybody[name])
        shown[name] = "How exposed it is" in client.get(address).content.decode()
    assert shown == {"locksmith": True, "auditor": True, "desk": False, "manager": False}


def test_no_page_shows_a_bitting(assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.officer)
    texts = {bitting_of(symbol) for symbol in assessed.system.symbols.all()}
    for text in (page(client, "site", assessed.cast.north.pk), page(client, "core", assessed.cores[0].pk)):
        assert not texts & set(re.findall(r"\b\d{5}\b", text))


def test_the_heat_view_tells_its_figures_in_a_table_too(assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.auditor)
    text = page(client, "site", assessed.cast.north.pk)
    worst = max(CoreExposure.objects.values_list("accepts", flat=True))
    assert "<svg" in text
    row = re.search(r"In no door</a></th>(.*?)</tr>", text, re.S)
    assert row is not None
    assert f">{worst}<" in row[1]
    assert ">4<" in row[1]


def test_a_cell_narrows_the_list_to_its_cores(assessed: Assessed, client: Client) -> None:
    housing = factories.make_housing(assessed.cast.north)
    core = factories.install(assessed.cores[0], housing)
    sign_in(client, assessed.cast.auditor)
    address = reverse("exposure:site", kwargs={"pk": assessed.cast.north.pk})
    answer = client.get(f"{address}?building={housing.door.building.pk}&system={assessed.system.pk}")
    assert [row.core for row in answer.context["rows"]] == [core]
    rest = client.get(f"{address}?building=none").context["rows"]
    assert {row.core for row in rest} == set(assessed.cores) - {core}


def test_a_cell_of_another_site_is_not_named(assessed: Assessed, client: Client) -> None:
    south = factories.make_system(assessed.cast.south, actor=assessed.cast.stranger, code="SECRET-WING")
    sign_in(client, assessed.cast.officer)
    for name, thing in (("system", south), ("site", assessed.cast.south)):
        answer = client.get(reverse("exposure:estate"), {name: str(thing.pk)})
        assert answer.context["narrowed"] == []
        assert str(thing) not in answer.content.decode()


def test_the_worst_core_comes_first(assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.auditor)
    answer = client.get(reverse("exposure:estate"))
    numbers = [row.found.accepts for row in answer.context["rows"]]
    assert numbers == sorted(numbers, reverse=True)
    assert len(set(numbers)) > 1


def test_keys_against_the_plan_are_counted_from_the_pins(assessed: Assessed, client: Client) -> None:
    """An operating key that takes a core out, and a key of another system that turns it."""
    core = assessed.cores[0]
    other = factories.make_system(assessed.cast.north, actor=assessed.cast.administrator)
    change, foreign = factories.change_key(assessed.system), factories.change_key(other)
    Turn.objects.filter(core=core, symbol=change).update(withdraws=True)
    Turn.objects.create(core=core, symbol=foreign, operates=True, withdraws=False)
    sign_in(client, assessed.cast.auditor)
    figures = client.get(reverse("exposure:site", kwargs={"pk": assessed.cast.north.pk})).context["figures"]
    assert (figures.withdrawers, figures.strangers) == (1, 1)


def near_core(assessed: Assessed) -> Core:
    """A core that some key nearly turns."""
    found = CoreExposure.objects.filter(near_turning__gt=0).select_related("core")
    return found[0].core


def test_near_misses_are_shown_after_history_knows(assessed: Assessed, client: Client) -> None:
    core = near_core(assessed)
    second = factories.make_user("second-officer", site=assessed.cast.north, role=Role.OFFICER)
    permit("near-keys", core, to=assessed.cast.officer, by=second)
    sign_in(client, assessed.cast.officer)
    answer = client.post(reverse("exposure:near", kwargs={"pk": core.pk}))
    assert answer.status_code == 200
    assert "no-store" in answer.headers["Cache-Control"]
    event = Event.objects.get(verb="core.near_keys_shown")
    assert event.sentence == (
        f"looked at the keys that nearly turn core {core} as Second Officer permitted: For this test"
    )
    known = keys_of(assessed.system)
    for key in answer.context["near"]:
        assert key.symbol is not None
        assert key.symbol.symbol in known
        assert all(change in answer.content.decode() for change in key.changes)
        assert key.by_wear == all("deeper" in change for change in key.changes)


def test_near_misses_are_not_for_auditors(assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.auditor)
    answer = client.post(reverse("exposure:near", kwargs={"pk": near_core(assessed).pk}))
    assert answer.status_code == 403
    assert not Event.objects.filter(verb="core.near_keys_shown").exists()


def test_without_a_second_person_nothing_is_shown(assessed: Assessed, client: Client) -> None:
    core = near_core(assessed)
    sign_in(client, assessed.cast.locksmith)
    answer = client.post(reverse("exposure:near", kwargs={"pk": core.pk}))
    assert answer.status_code == 422
    assert answer.context["near"] is None
    assert reverse("reveals:ask", args=["near-keys", core.pk]) in answer.content.decode()
    assert not Event.objects.filter(verb="core.near_keys_shown").exists()


def test_who_may_not_look_closer_cannot_ask_to(assessed: Assessed, client: Client) -> None:
    sign_in(client, assessed.cast.auditor)
    ask = reverse("reveals:ask", args=["near-keys", near_core(assessed).pk])
    assert client.get(ask).status_code == 403


def test_a_key_of_a_site_that_one_does_not_work_at_has_no_name(cast: Cast) -> None:
    """Two sites share a keyway; the one's locksmith learns that a key is near, and not which."""
    facts = {"format_id": "small-a4-5", "keyway": "W1", "levels": (((1, 2), 2), ((3, 4, 5), 3))}
    north = factories.make_system(cast.north, actor=cast.administrator, **facts)  # type: ignore[arg-type]
    south = factories.make_system(cast.south, actor=cast.stranger, **facts)  # type: ignore[arg-type]
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=north)
    permit("near-keys", core, to=cast.locksmith, by=cast.officer)
    near = look_closer(actor=cast.locksmith, sign_in=proven(cast.locksmith), core=core)
    assert {key.symbol.system for key in near if key.symbol} <= {north}
    assert len([key for key in near if key.symbol is None]) == len([key for key in near if key.symbol])
    assert south.symbols.count() == north.symbols.count()


def test_the_api_says_nothing_of_exposure(assessed: Assessed) -> None:
    contract = (Path(__file__).parents[2] / "api" / "openapi.json").read_text("utf-8")
    assert not re.search(r"exposure|accepts|wafer|incidental", contract)


def test_keys_against_the_plan_are_listed(assessed: Assessed, client: Client) -> None:
    core = assessed.cores[0]
    other = factories.make_system(assessed.cast.north, actor=assessed.cast.administrator)
    foreign = factories.change_key(other)
    Turn.objects.create(core=core, symbol=foreign, operates=True, withdraws=True)
    sign_in(client, assessed.cast.auditor)
    answer = client.get(reverse("exposure:site", kwargs={"pk": assessed.cast.north.pk}))
    assert [(turn.core, turn.symbol) for turn in answer.context["against"]] == [(core, foreign)]
    assert "Turns it and takes it out" in answer.content.decode()


def test_an_estimate_is_never_shown_as_a_count(assessed: Assessed, client: Client) -> None:
    IncidentalCount.objects.filter(line="operating").update(low=1_111, number=1_234, high=1_357)
    sign_in(client, assessed.cast.auditor)
    for place, pk in (("site", assessed.cast.north.pk), ("system", assessed.system.pk), ("estate", None)):
        text = page(client, place, pk)
        assert "Estimate</span> 1,111 to 1,357" in text
        assert "1,234" not in text


def test_the_page_of_a_core_tells_whether_its_top_master_is_inside(
    assessed: Assessed, client: Client
) -> None:
    core = assessed.cores[0]
    sign_in(client, assessed.cast.auditor)
    assert 'class="code">A</span> turns it' in page(client, "core", core.pk)
    Turn.objects.filter(core=core, symbol__level=0).delete()
    assert "None turns it" in page(client, "core", core.pk)
