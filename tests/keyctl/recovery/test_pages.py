"""The pages, as each of the cast meets them."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.recovery.forms import ReadingForm
from keyctl.recovery.models import ControlBlank, ControlKeyCase
from keyctl.recovery.services.closing import CHECKS
from tests import factories
from tests.cast import Cast
from tests.keyctl.recovery.loss import (
    NOTE,
    Loss,
    fresh,
    now,
    secrets_of,
    sizes,
    with_other_control,
)
from tests.signing import sign_in

READERS = {"locksmith", "officer", "manager", "auditor", "administrator"}
Writes = Callable[[], AbstractContextManager[list[str]]]


def answers(cast: Cast, address: str) -> dict[str, int]:
    found = {}
    for name, user in cast.everybody.items():
        client = Client()
        sign_in(client, user)
        found[name] = client.get(address).status_code
    return found


def expected(allowed: set[str], stranger: int) -> dict[str, int]:
    people = ["locksmith", "desk", "manager", "officer", "auditor", "requester", "administrator"]
    return {name: 200 if name in allowed else 403 for name in people} | {"stranger": stranger}


def at(name: str, thing: Any) -> str:
    return reverse(f"recovery:{name}", args=[thing.pk])


def signed_in(user: User) -> Client:
    client = Client()
    sign_in(client, user)
    return client


def post(user: User, name: str, case: ControlKeyCase, **facts: Any) -> Any:
    return signed_in(user).post(at(name, case), {"version": now(case), **facts})


def typed(case: ControlKeyCase, loss: Loss, nth: int) -> dict[str, str]:
    core = loss.core(nth)
    stacks = {
        f"p{position}": " ".join(map(str, stack)) for position, stack in enumerate(sizes(core), start=1)
    }
    return {"core": str(core), "unit": "kit", "tolerance_in": "0.002", **stacks}


def test_lengths_in_millimetres_are_read_as_those_in_inches(loss: Loss) -> None:
    """0.15 in is 3.81 mm, 0.002 in is 0.0508 mm."""
    case = loss.case()
    common = {"core": str(loss.core()), "unit": "inch", "version": str(now(case))}
    stacks = {f"p{position}": "0.15 0.35" for position in range(1, 8)}
    by_inches = ReadingForm(common | stacks | {"tolerance_in": "0.002"}, seen=case)
    stacks = {f"p{position}": "3.81 8.89" for position in range(1, 8)}
    by_mm = ReadingForm(common | stacks | {"tolerance_in": "0.0508", "units": "mm"}, seen=case)
    assert by_inches.is_valid(), by_inches.errors
    assert by_mm.is_valid(), by_mm.errors
    assert by_mm.cleaned_data == by_inches.cleaned_data


def test_the_list_is_for_its_readers(loss: Loss) -> None:
    loss.case()
    assert answers(loss.cast, reverse("recovery:list")) == expected(READERS, 200)


def test_a_stranger_finds_no_case_in_the_list(loss: Loss) -> None:
    loss.case()
    page = signed_in(loss.cast.stranger).get(reverse("recovery:list")).content.decode()
    assert loss.system.name not in page


def test_a_case_is_for_the_readers_of_its_site(loss: Loss) -> None:
    assert answers(loss.cast, at("detail", loss.case())) == expected(READERS, 404)


def test_opening_and_reading_are_for_locksmiths(loss: Loss) -> None:
    assert answers(loss.cast, reverse("recovery:new")) == expected({"locksmith"}, 200)
    assert answers(loss.cast, at("read", loss.case())) == expected({"locksmith"}, 404)


def test_the_register_of_blanks_is_for_its_readers(full: Loss) -> None:
    blank = full.blanks()
    assert answers(full.cast, reverse("recovery:blanks")) == expected(READERS, 200)
    assert answers(full.cast, at("blank", blank)) == expected(READERS, 404)


def test_a_case_is_opened_on_the_page(loss: Loss) -> None:
    where = f"{loss.site.pk}_{loss.system.pk}"
    facts = {"where": where, "note": NOTE, "officer_told": "on"}
    answer = signed_in(loss.smith).post(reverse("recovery:new"), facts)
    case = ControlKeyCase.objects.get()
    assert answer.headers["Location"] == at("detail", case)


def test_the_page_says_that_the_officer_comes_first(loss: Loss) -> None:
    facts = {"where": f"{loss.site.pk}_{loss.system.pk}", "note": NOTE}
    answer = signed_in(loss.smith).post(reverse("recovery:new"), facts)
    assert answer.status_code == 422
    assert "Tell the security officer first" in answer.content.decode()
    assert NOTE in answer.content.decode()


def test_the_cautions_stand_on_every_open_case(loss: Loss, full: Loss, padlock: Loss, fixed: Loss) -> None:
    for each in (loss, full, padlock, fixed):
        page = signed_in(each.smith).get(at("detail", each.case())).content.decode()
        for words in (
            "Treat a lost one as a loss of security",
            "Who may decide",
            "Local codes come first",
            "Never force a door that people need to leave by",
            "only the person whose lock it is takes it off",
        ):
            assert words in page


def test_the_padlock_page_says_that_there_is_no_control_key(padlock: Loss) -> None:
    page = signed_in(padlock.smith).get(at("detail", padlock.case())).content.decode()
    assert "This construction has no control key" in page
    assert "Turn the screw out" in page


def test_the_padlock_page_names_the_keys_that_open_a_core(padlock: Loss) -> None:
    case, core = padlock.case(), padlock.core()
    assert post(padlock.smith, "choose-core", case, core=str(core)).status_code == 302
    page = signed_in(padlock.smith).get(at("detail", case)).content.decode()
    assert reverse("cores:symbol", args=[factories.change_key(padlock.system).pk]) in page


def test_the_page_of_an_ordinary_cylinder_says_how_it_comes_out(fixed: Loss) -> None:
    page = signed_in(fixed.smith).get(at("detail", fixed.case())).content.decode()
    assert "These cylinders have no control key" in page
    assert "set screw" in page


def test_the_whole_way_by_decoding(loss: Loss) -> None:
    case = loss.case()
    for nth in range(2):
        assert post(loss.smith, "read", case, **typed(case, loss, nth)).status_code == 302
    assert post(loss.cast.officer, "approve", case).status_code == 302
    shown = post(loss.smith, "show", case)
    assert shown.status_code == 200
    assert loss.control() in shown.content.decode()
    assert "no-store" in shown.headers["Cache-Control"]
    checks = [name for name, _ in CHECKS[ControlKeyCase.Way.DECODE]]
    assert post(loss.smith, "close", case, checks=checks, outcome="Cut anew.").status_code == 302
    assert fresh(case).state == "closed"


def test_the_whole_way_onto_a_control_blank(full: Loss) -> None:
    blank, case = full.blanks(1), full.case()
    key = factories.change_key(full.system)
    assert post(full.smith, "choose-core", case, core=str(full.core())).status_code == 302
    assert post(full.smith, "choose-key", case, symbol=str(key.pk)).status_code == 302
    assert post(full.cast.officer, "approve", case).status_code == 302
    assert post(full.smith, "cut", case).status_code == 200
    assert ControlBlank.objects.get(pk=blank.pk).count == 0
    page = signed_in(full.smith).get(at("detail", case)).content.decode()
    assert "Control blanks cut" in page


def test_without_a_blank_the_page_gives_the_remedy(full: Loss) -> None:
    full.blanks(0)
    answer = post(full.smith, "cut", full.approve(full.chosen()))
    assert answer.status_code == 422
    assert "Receive new ones into the register" in answer.content.decode()


def test_doubts_stand_in_the_form_and_what_was_typed_stays(loss: Loss) -> None:
    case = loss.case()
    facts = typed(case, loss, 0) | {"p4": "5 2 14 2"}
    answer = post(loss.smith, "read", case, **facts)
    assert answer.status_code == 422
    assert "It may be: bottom 5" in answer.content.decode()
    assert 'value="5 2 14 2"' in answer.content.decode()


@pytest.mark.parametrize("sign", ["five", "5 x 3", "--"])
def test_a_chamber_that_is_no_row_of_numbers_is_told(loss: Loss, sign: str) -> None:
    case = loss.case()
    answer = post(loss.smith, "read", case, **(typed(case, loss, 0) | {"p4": sign}))
    assert answer.status_code == 422
    assert "Position 4: write numbers with blanks" in answer.content.decode()


def test_an_unknown_tag_is_told(loss: Loss) -> None:
    case = loss.case()
    answer = post(loss.smith, "read", case, **(typed(case, loss, 0) | {"core": "BCDF-2345-GHJK"}))
    assert "has no core with the tag" in answer.content.decode()


def test_cores_that_contradict_are_told_and_shown_where_they_differ(loss: Loss) -> None:
    case, first, second = loss.case(), loss.core(0), loss.core(1)
    loss.read(case, first)
    pins = sizes(second)
    other = with_other_control(pins, 3, 1 if int(pins[2][-1]) > 3 else -1)
    loss.read(case, second, other)
    assert "The cores contradict each other" in signed_in(loss.smith).get(at("detail", case)).content.decode()
    shown = post(loss.smith, "differences", case)
    page = shown.content.decode()
    assert "Position 3" in page
    assert "Position 2" not in page
    for core, stack in ((first, sizes(first)[2]), (second, other[2])):
        assert f'{core}</th><td class="code">{" ".join(map(str, stack))}</td>' in page
    assert "no-store" in shown.headers["Cache-Control"]


def test_no_bitting_stands_on_any_page_that_is_only_read(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    loss.show(case)
    secrets = secrets_of(loss)
    for name in sorted(READERS):
        client = signed_in(loss.cast.everybody[name])
        for address in (reverse("recovery:list"), at("detail", case), reverse("recovery:blanks")):
            page = client.get(address).content.decode()
            assert not [secret for secret in secrets if secret in page]


def test_a_secret_answers_no_get(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    for name in ("show", "differences", "cut"):
        assert signed_in(loss.smith).get(at(name, case)).status_code == 405


def test_the_opener_who_is_an_officer_too_reads_why_not(loss: Loss) -> None:
    from keyctl.places.models import Membership
    from keyctl.places.roles import Role

    case = loss.agreed()
    Membership.objects.create(user=loss.smith, site=loss.site, role=Role.OFFICER)
    answer = post(loss.smith, "approve", case)
    assert answer.status_code == 422
    assert "You opened this case" in answer.content.decode()


@pytest.mark.parametrize(
    "name", ["choose-core", "choose-key", "approve", "show", "differences", "cut", "close", "cancel", "read"]
)
def test_who_only_reads_changes_nothing(loss: Loss, name: str) -> None:
    case = loss.agreed()
    for person in ("manager", "auditor", "administrator", "desk", "requester"):
        assert post(loss.cast.everybody[person], name, case).status_code == 403
    assert post(loss.cast.stranger, name, case).status_code == 404


def test_a_register_is_opened_and_filled_on_the_page(full: Loss) -> None:
    client = signed_in(full.smith)
    where = f"{full.site.pk}_{full.system.keyway}"
    assert client.post(reverse("recovery:blanks"), {"where": where}).status_code == 302
    blank = ControlBlank.objects.get()
    facts = {"receive-version": blank.version, "receive-number": 12}
    assert client.post(at("receive", blank), facts).status_code == 302
    page = client.get(at("blank", blank)).content.decode()
    assert "+12" in page


def test_a_difference_in_the_count_is_told_in_its_form(full: Loss) -> None:
    blank = full.blanks(4)
    facts = {"count-version": blank.version, "count-number": 3}
    answer = signed_in(full.smith).post(at("count", blank), facts)
    assert answer.status_code == 422
    assert "treat missing control blanks as a loss of security" in answer.content.decode()


def test_only_systems_that_take_control_blanks_get_a_register(loss: Loss) -> None:
    page = signed_in(loss.smith).get(reverse("recovery:blanks")).content.decode()
    assert "Open the register" not in page


def test_the_page_counts_what_the_lost_key_takes_out(loss: Loss) -> None:
    for nth in range(2):
        factories.install(loss.core(nth), factories.make_housing(loss.site))
    loss.core(2)
    answer = signed_in(loss.smith).get(at("detail", loss.case()))
    assert answer.context["reach"].cores == 3
    assert answer.context["reach"].doors == 2


def test_looking_writes_nothing(loss: Loss, writes: Writes) -> None:
    case = loss.agreed()
    client = signed_in(loss.smith)
    with writes() as written:
        for address in (at("detail", case), at("read", case), reverse("recovery:list")):
            assert client.get(address).status_code == 200
    assert written == []
