"""Keying a core anew: the pins that change, and the word that it is done."""

import pytest
from django.test import Client

from keyctl.audit.selectors import history_of
from keyctl.bench.services import repin_core, work_out_repin
from keyctl.cores.models import Core, Turn
from keyctl.cores.services import move_core, pin_core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.orders.services import open_pin_order
from keyctl.stock.models import PinMove
from keyctl.systems.models import KeySymbol
from tests.cast import Cast
from tests.factories import install, make_core, make_housing, make_system, symbol
from tests.keyctl.bench.tray import STATUS, secrets_in, told_history
from tests.signing import proven, sign_in


def url(core: Core, act: str = "") -> str:
    return f"/bench/repin/{core.pk}/{act}"


def said(core: Core, symbols: str = "AB2") -> dict[str, str]:
    return {"version": str(core.version), "symbols": symbols}


def named(core: Core, *names: str) -> list[KeySymbol]:
    assert core.system
    return [symbol(core.system, name) for name in names]


def keyed(core: Core) -> set[str]:
    return {str(key) for key in core.keyed_to.all()}


def turning(core: Core) -> set[str]:
    return set(Turn.objects.filter(core=core, operates=True).values_list("symbol__symbol", flat=True))


@pytest.mark.parametrize("name", STATUS)
def test_only_a_locksmith_of_the_site_sees_the_pins_to_change(
    client: Client, cast: Cast, core: Core, name: str
) -> None:
    sign_in(client, getattr(cast, name))
    assert client.post(url(core), said(core)).status_code == STATUS[name]
    assert history_of(core).filter(verb="core.repin_shown").count() == (name == "locksmith")


@pytest.mark.parametrize("name", [name for name in STATUS if name != "locksmith"])
def test_nobody_else_says_that_it_is_done(client: Client, cast: Cast, core: Core, name: str) -> None:
    sign_in(client, getattr(cast, name))
    assert client.post(url(core, "done/"), said(core)).status_code == STATUS[name]
    assert keyed(core) == {"AA1"}


def test_the_way_in_asks_for_a_core(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    assert client.get("/bench/repin/").status_code == 200
    assert client.get("/bench/repin/", {"tag": core.tag}).headers["Location"] == url(core)


def test_looking_at_the_page_shows_no_pins(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    page = client.get(url(core)).content.decode()
    assert 'value="AA1"' in page
    assert "pin-label" not in page
    assert history_of(core).filter(verb="core.repin_shown").count() == 0


def test_the_changes_lead_from_the_pins_now_to_the_target(cast: Cast, core: Core) -> None:
    """Replayed by hand: what stays, and what goes in on top of it, is the target's chamber."""
    job = work_out_repin(
        actor=cast.locksmith,
        sign_in=proven(cast.locksmith),
        core=core,
        version=core.version,
        symbols=named(core, "AB2"),
    )
    for chamber in job.change.chambers:
        assert chamber.keep + chamber.insert == job.target.stacks[chamber.position - 1].pins
        taken = sorted(chamber.keep + chamber.lift + chamber.remove)
        assert taken == sorted(job.now.stacks[chamber.position - 1].pins)
    for position in job.change.untouched:
        assert job.now.stacks[position - 1] == job.target.stacks[position - 1]


def test_the_target_is_what_pinning_that_plan_gives(cast: Cast, core: Core) -> None:
    assert core.system
    fresh = make_core(
        actor=cast.locksmith, site=cast.north, system=core.system, symbols=named(core, "AA2", "AB2")
    )
    job = work_out_repin(
        actor=cast.locksmith,
        sign_in=proven(cast.locksmith),
        core=core,
        version=core.version,
        symbols=named(core, "AA2", "AB2"),
    )
    assert job.target == pins_of(fresh)


def test_the_kit_counts_are_the_sums_over_the_chambers(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    context = client.post(url(core), said(core)).context
    change = context["job"].change
    assert sum(row.count for row in context["from_kit"]) == sum(len(each.add) for each in change.chambers)
    assert sum(row.count for row in context["to_kit"]) == sum(len(each.remove) for each in change.chambers)
    assert context["from_kit"]


def test_the_same_keys_change_nothing(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), said(core, "AA1"))
    assert answer.context["chambers"] == []
    assert "No pin changes" in answer.content.decode()


def test_done_keys_and_pins_the_core_together(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core, "done/"), said(core, "AB2"))
    assert answer.headers["Location"] == f"/estate/cores/{core.pk}/"
    core.refresh_from_db()
    assert (keyed(core), turning(core)) == ({"AB2"}, {"A", "AB", "AB2"})
    assert [event.verb for event in history_of(core)[:2]] == ["core.pinned", "core.rekeyed"]


def test_done_books_the_pins_that_came_from_the_kit_and_names_no_core(cast: Cast, core: Core) -> None:
    job = work_out_repin(
        actor=cast.locksmith,
        sign_in=proven(cast.locksmith),
        core=core,
        version=core.version,
        symbols=named(core, "AB2"),
    )
    repin_core(actor=cast.locksmith, core=core, version=core.version, symbols=job.symbols)
    moves = PinMove.objects.filter(reason=PinMove.Reason.USED)
    assert {(move.bin.role, move.bin.size): -move.change for move in moves} == dict(job.change.add)
    assert not [move for move in moves if core.tag[:4] in move.order]


def test_history_tells_from_which_key_to_which(cast: Cast, core: Core) -> None:
    assert core.system
    repin_core(actor=cast.locksmith, core=core, version=core.version, symbols=named(core, "AB1", "AB2"))
    event = history_of(core).get(verb="core.rekeyed")
    assert event.sentence == f"keyed core {core} to AB1, AB2 of {core.system.code} instead of AA1"
    assert event in history_of(symbol(core.system, "AA1"))
    assert event in history_of(symbol(core.system, "AB2"))


def test_back_to_the_plan_pins_without_keying(cast: Cast, core: Core) -> None:
    repin_core(actor=cast.locksmith, core=core, version=core.version, symbols=named(core, "AA1"))
    assert history_of(core)[0].verb == "core.pinned"
    assert history_of(core).filter(verb="core.rekeyed").count() == 0


@pytest.mark.parametrize("typed", ["", ",", "ZZ9", "AA1 ZZ9", "CTR"])
def test_what_is_no_operating_key_of_the_system_is_refused(
    client: Client, cast: Cast, core: Core, typed: str
) -> None:
    sign_in(client, cast.locksmith)
    for act in ("", "done/"):
        assert client.post(url(core, act), said(core, typed)).status_code == 422
    assert keyed(core) == {"AA1"}


def test_a_key_of_another_system_is_refused(cast: Cast, core: Core) -> None:
    other = make_system(cast.north, actor=cast.administrator)
    with pytest.raises(Refused, match="belongs to another key system"):
        repin_core(actor=cast.locksmith, core=core, version=core.version, symbols=[symbol(other, "AA1")])


def test_a_core_in_a_door_is_not_repinned(client: Client, cast: Cast, core: Core) -> None:
    install(core, make_housing(cast.north))
    sign_in(client, cast.locksmith)
    assert "take it out with a swap order" in client.get(url(core)).content.decode()
    assert client.post(url(core), said(core)).status_code == 422
    assert client.post(url(core, "done/"), said(core)).status_code == 422
    assert keyed(core) == {"AA1"}


def test_a_core_that_is_gone_or_has_no_pins_is_not_repinned(cast: Cast, core: Core) -> None:
    assert core.system
    bare = make_core(actor=cast.locksmith, site=cast.north, system=core.system, pinned=False)
    with pytest.raises(Refused, match="not pinned yet"):
        repin_core(actor=cast.locksmith, core=bare, version=bare.version, symbols=named(core, "AB2"))
    gone = move_core(actor=cast.locksmith, core=core, version=core.version, place=Core.Place.GONE)
    with pytest.raises(Refused, match="is gone"):
        repin_core(actor=cast.locksmith, core=gone, version=gone.version, symbols=named(core, "AB2"))


def test_a_core_that_waits_in_an_order_keeps_its_keys(cast: Cast, core: Core) -> None:
    """Somebody counts on its keys: a core set aside for a door must not open for other people."""
    open_pin_order(actor=cast.locksmith, site=cast.north, title="Work", cores=[core])
    with pytest.raises(Refused, match="already stands in order"):
        repin_core(actor=cast.locksmith, core=core, version=core.version, symbols=named(core, "AB2"))


@pytest.mark.parametrize("act", ["", "done/"])
def test_a_stale_page_changes_nothing(client: Client, cast: Cast, core: Core, act: str) -> None:
    stale = said(core)
    pin_core(actor=cast.locksmith, core=core, version=core.version)
    sign_in(client, cast.locksmith)
    answer = client.post(url(core, act), stale)
    assert answer.status_code == 422
    assert "has changed since you looked" in answer.content.decode()
    assert keyed(core) == {"AA1"}
    assert history_of(core).filter(verb="core.repin_shown").count() == 0


def test_keys_that_cannot_be_pinned_leave_everything_as_it_was(cast: Cast, core: Core) -> None:
    """Plan and pins change together or not at all: here the pins are refused after the plan was written."""
    (target,) = named(core, "AB2")
    target.bitting = b"not sealed"
    target.save(update_fields=["bitting"])
    with pytest.raises(Refused):
        repin_core(actor=cast.locksmith, core=core, version=core.version, symbols=[target])
    core.refresh_from_db()
    assert (keyed(core), turning(core)) == ({"AA1"}, {"A", "AA", "AA1"})
    assert history_of(core).filter(verb="core.rekeyed").count() == 0


def test_the_pins_stand_in_the_box_that_hides_itself(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), said(core))
    before, _, rest = answer.content.decode().partition('<section class="secret')
    inside, _, after = rest.partition("</section>")
    assert "pin-label" in inside
    assert "pin-label" not in before + after
    assert "no-store" in answer.headers["Cache-Control"]


def test_no_bitting_gets_into_history(cast: Cast, core: Core) -> None:
    job = work_out_repin(
        actor=cast.locksmith,
        sign_in=proven(cast.locksmith),
        core=core,
        version=core.version,
        symbols=named(core, "AB2"),
    )
    repin_core(actor=cast.locksmith, core=core, version=job.core.version, symbols=job.symbols)
    assert secrets_in(told_history(), core) == []
