"""The guided swap, step by step, as a tablet without scripts does it."""

from typing import TYPE_CHECKING, Any

import pytest
from django.test.client import Client
from django.urls import reverse

from keyctl.cores.models import Core
from keyctl.orders.models import OrderLine
from tests import factories
from tests.keyctl.orders.workshop import Workshop, complete, only_line

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

CHECKS = ["operating_key_turned", "control_key_came_out", "egress_and_latch_tried"]


@pytest.fixture
def smith(shop: Workshop, client: Client) -> Client:
    client.force_login(shop.smith)
    return client


def url(line: OrderLine, step: str = "") -> str:
    return reverse("orders:swap", args=[line.pk]) + (f"?step={step}" if step else "")


def words(answer: "Answer") -> str:
    return " ".join(answer.content.decode().split())


def waiting_line(shop: Workshop, **door: Any) -> OrderLine:
    housing = shop.housing(door=factories.make_door(shop.site, **door))
    return only_line(shop.swap_order(housing))


def seen(line: OrderLine, **facts: Any) -> dict[str, Any]:
    """What the second step hands to the third."""
    assert line.core is not None
    return {"core_in_id": line.core.pk, "core_in_version": line.core.version, "put_at": "bench"} | facts


def finish(client: Client, line: OrderLine, **facts: Any) -> "Answer":
    return client.post(url(line, "checks"), seen(line, **(dict.fromkeys(CHECKS, "on") | facts)))


def test_the_first_step_says_which_door_and_what_is_in_it(shop: Workshop, smith: Client) -> None:
    housing, core = shop.furnished()
    page = words(smith.get(url(only_line(shop.swap_order(housing)))))
    assert str(housing.door) in page
    assert str(core) in page


@pytest.mark.parametrize(
    ("fact", "caution"), [("is_egress", "Egress door"), ("is_fire_rated", "Fire-rated door")]
)
def test_it_cautions_where_the_door_needs_it(shop: Workshop, smith: Client, fact: str, caution: str) -> None:
    assert caution in words(smith.get(url(waiting_line(shop, **{fact: True}))))
    assert caution not in words(smith.get(url(waiting_line(shop))))


def test_it_cautions_at_a_padlock_that_may_lock_a_machine_out(shop: Workshop, smith: Client) -> None:
    line = only_line(shop.swap_order(shop.housing(kind="padlock")))
    assert "Lock-out point" in words(smith.get(url(line)))


def test_it_always_says_not_to_leave_the_opening(shop: Workshop, smith: Client) -> None:
    page = words(smith.get(url(waiting_line(shop))))
    assert "Do not leave the opening unsecured" in page
    assert "local code" in page


def test_it_offers_only_pinned_free_cores_that_fit(shop: Workshop, smith: Client) -> None:
    fitting, raw, (_, installed) = shop.core(), shop.core(pinned=False), shop.furnished()
    taken = shop.swap_line().core
    page = words(smith.get(url(waiting_line(shop))))
    assert str(fitting) in page
    for core in (raw, installed, taken):
        assert str(core) not in page


@pytest.mark.parametrize("typed", ["{core}", "{tag}", "https://keys.example/Q/{tag}", " {lower} "])
def test_a_tag_may_be_typed_or_scanned(shop: Workshop, smith: Client, typed: str) -> None:
    core, line = shop.core(), waiting_line(shop)
    tag = typed.format(core=core, tag=core.tag, lower=core.tag.lower())
    answer = smith.post(url(line, "door"), {"tag": tag})
    assert answer["Location"] == url(line, "exchange")
    line.refresh_from_db()
    assert line.core == core


def test_a_core_may_be_chosen_from_the_list(shop: Workshop, smith: Client) -> None:
    core, line = shop.core(), waiting_line(shop)
    smith.post(url(line, "door"), {"core": core.pk})
    line.refresh_from_db()
    assert line.core == core


def test_an_unknown_tag_is_told(shop: Workshop, smith: Client) -> None:
    answer = smith.post(url(waiting_line(shop), "door"), {"tag": "BCDF-BCDF-BCDF"})
    assert answer.status_code == 422
    assert "No core at North site has this tag" in words(answer)


def test_a_tag_of_another_site_is_as_unknown(shop: Workshop, smith: Client) -> None:
    answer = smith.post(url(waiting_line(shop), "door"), {"tag": shop.foreign_core().tag})
    assert "No core at North site has this tag" in words(answer)


def test_a_core_that_cannot_go_in_is_refused_with_the_reason(shop: Workshop, smith: Client) -> None:
    answer = smith.post(url(waiting_line(shop), "door"), {"tag": shop.core(pinned=False).tag})
    assert answer.status_code == 422
    assert "not pinned yet" in words(answer)


def test_nothing_chosen_is_told(shop: Workshop, smith: Client) -> None:
    assert "Choose the core that goes in" in words(smith.post(url(waiting_line(shop), "door"), {}))


def test_the_second_step_comes_after_the_first(shop: Workshop, smith: Client) -> None:
    assert "1. At the door" in words(smith.get(url(waiting_line(shop), "exchange")))
    assert "2. Exchange" in words(smith.get(url(shop.swap_line(), "exchange")))


def test_the_second_step_speaks_of_the_control_key_where_the_core_has_one(
    shop: Workshop, smith: Client
) -> None:
    assert "control key" in words(smith.get(url(shop.swap_line(), "exchange")))


def test_the_second_step_asks_where_the_old_core_goes(shop: Workshop, smith: Client) -> None:
    housing, old = shop.furnished()
    line = shop.swap_line(housing)
    assert "Where does the core that came out go?" in words(smith.get(url(line, "exchange")))
    for nowhere in ("", "roof"):
        assert finish(smith, line, core_out_id=old.pk, put_at=nowhere).status_code == 422
    answer = finish(smith, line, core_out_id=old.pk, put_at="")
    assert "Say where the core that came out goes" in words(answer)


@pytest.mark.parametrize("step", ["exchange", "checks"])
def test_exchange_and_checks_stand_on_one_page_and_carry_what_was_seen(
    shop: Workshop, smith: Client, step: str
) -> None:
    line = shop.swap_line()
    page = words(smith.get(url(line, step)))
    assert page.index("2. Exchange") < page.index("3. Checks") < page.index("Finish the swap")
    for value in seen(line, put_at="bench").values():
        assert f'value="{value}"' in page


def test_the_checks_before_a_core_is_chosen_go_back_to_the_door(shop: Workshop, smith: Client) -> None:
    assert "1. At the door" in words(smith.get(url(waiting_line(shop), "checks")))


@pytest.mark.parametrize("check", CHECKS)
def test_every_check_is_needed(shop: Workshop, smith: Client, check: str) -> None:
    line = shop.swap_line()
    answer = finish(smith, line, **{check: ""})
    assert answer.status_code == 422
    assert "The swap is not finished." in words(answer)
    line.refresh_from_db()
    assert line.is_open


def test_the_result_says_what_went_in_and_what_came_out(shop: Workshop, smith: Client) -> None:
    housing, old = shop.furnished()
    line = shop.swap_line(housing)
    answer = finish(smith, line, core_out_id=old.pk, put_at="shelf", note="Closer adjusted.")
    assert answer["Location"] == url(line)
    page = words(smith.get(url(line)))
    for words_ in ("The swap is finished", str(line.core), str(old), "Closer adjusted.", "is done"):
        assert words_ in page
    old.refresh_from_db()
    assert old.place == Core.Place.SHELF


def test_the_result_leads_to_the_next_door(shop: Workshop, smith: Client) -> None:
    order = shop.swap_order(shop.housing(), shop.housing())
    first, second = order.lines.all()
    smith.post(url(first, "door"), {"tag": shop.core().tag})
    first.refresh_from_db()
    finish(smith, first)
    assert f"Next door: {second.housing}" in words(smith.get(url(first)))


def test_a_stale_page_is_told_and_changes_nothing(shop: Workshop, smith: Client) -> None:
    line = shop.swap_line()
    assert line.core is not None
    answer = finish(smith, line, core_in_version=line.core.version - 1)
    assert answer.status_code == 422
    assert "has changed since you looked at it" in words(answer)
    line.refresh_from_db()
    assert line.is_open


def test_a_page_that_showed_another_core_is_told(shop: Workshop, smith: Client) -> None:
    answer = finish(smith, shop.swap_line(), core_in_id=shop.core().pk)
    assert "in the meantime" in words(answer)


def test_a_cancelled_line_says_so(shop: Workshop, smith: Client) -> None:
    line = shop.swap_line()
    smith.post(reverse("orders:cancel", args=[line.order_id]))
    assert "This line was cancelled" in words(smith.get(url(line)))


def test_htmx_gets_the_step_without_the_frame(shop: Workshop, smith: Client) -> None:
    answer = smith.post(
        url(waiting_line(shop), "door"), {"tag": shop.core().tag}, follow=True, headers={"HX-Request": "true"}
    )
    assert "2. Exchange" in words(answer)
    assert "<html" not in words(answer)


def test_a_line_of_a_pin_order_has_no_swap(shop: Workshop, smith: Client) -> None:
    line = only_line(shop.pin_order())
    assert smith.get(url(line))["Location"] == reverse("orders:detail", args=[line.order_id])


@pytest.mark.parametrize(("who", "status"), [("manager", 403), ("auditor", 403), ("stranger", 404)])
def test_the_guide_is_closed_to_others(shop: Workshop, client: Client, who: str, status: int) -> None:
    line = shop.swap_line()
    client.force_login(shop.cast.everybody[who])
    assert client.get(url(line)).status_code == status
    assert finish(client, line).status_code == status


def test_a_swap_finished_elsewhere_shows_its_result(shop: Workshop, smith: Client) -> None:
    line = shop.swap_line()
    complete(line, shop.smith)
    assert "The swap is finished" in words(smith.get(url(line, "checks")))
