"""Who sees what, on what ground; and what stands in history before anything is opened."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection, transaction
from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone

from keyctl.accounts.fresh import FreshSignIn, SignInAgain
from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.cores.services import pin_core, reveal_pinning
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services import (
    cancel_order,
    let_go_untried,
    open_decode_order,
    open_swap_order,
    pin_line,
)
from keyctl.reveals import grounds, law
from keyctl.reveals.errors import Missing
from keyctl.reveals.grounds import Ground
from keyctl.reveals.models import Permission, Reveal
from keyctl.reveals.services import reveal, withdraw_permission
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of
from keyctl.vault.errors import Tampered
from tests import factories
from tests.cast import Cast
from tests.keyctl.reveals.bench import Bench, looks_of, question
from tests.permits import permit
from tests.signing import proven


class TestWork:
    def test_a_core_of_an_open_order_is_seen_by_one_person(self, bench: Bench) -> None:
        order = bench.order()
        assert bench.look() == pins_of(bench.core)
        (seen,) = Reveal.objects.all()
        assert (seen.by, seen.ground, seen.second) == ("work", f"for order {order.number}", None)

    def test_a_core_that_no_order_names_is_refused_with_the_way_to_ask(self, bench: Bench) -> None:
        with pytest.raises(Missing, match="No open order of yours names it") as refusal:
            bench.look()
        assert [way.url for way in refusal.value.ways] == [f"/reveals/ask/core/{bench.core.pk}/"]
        assert not Reveal.objects.exists()

    def test_an_order_to_decode_names_its_core(self, bench: Bench) -> None:
        facts = {"actor": bench.smith, "site": bench.site, "title": "Found core"}
        found = factories.make_core(actor=bench.smith, site=bench.site, system=bench.system, pinned=False)
        open_decode_order(cores=[found], **facts)  # type: ignore[arg-type]
        found = pin_core(actor=bench.smith, core=found, version=found.version)
        assert bench.look(found)

    def test_whoever_swaps_a_core_needs_none_of_its_pins(self, bench: Bench) -> None:
        housing = factories.make_housing(bench.site)
        order = open_swap_order(actor=bench.smith, site=bench.site, title="Door work", housings=[housing])
        order.lines.update(core=bench.core)
        with pytest.raises(Missing):
            bench.look()

    def test_an_order_that_is_another_s_does_not_count(self, bench: Bench) -> None:
        order = bench.order()
        WorkOrder.objects.filter(pk=order.pk).update(assigned_to=bench.second())
        with pytest.raises(Missing):
            bench.look()
        WorkOrder.objects.filter(pk=order.pk).update(assigned_to=bench.smith)
        assert bench.look()

    def test_a_cancelled_order_names_nothing_any_more(self, bench: Bench) -> None:
        cancel_order(actor=bench.smith, order=bench.order())
        with pytest.raises(Missing):
            bench.look()

    def test_an_order_at_another_site_is_no_ground_here(self, bench: Bench, cast: Cast) -> None:
        order = bench.order()
        WorkOrder.objects.filter(pk=order.pk).update(site=cast.south)
        with pytest.raises(Missing):
            bench.look()

    def test_a_core_pinned_in_the_records_is_built_after_its_order_ended(self, bench: Bench) -> None:
        """The order ends with its last line; the core is built and tried afterwards."""
        bare = factories.make_core(actor=bench.smith, site=bench.site, system=bench.system, pinned=False)
        line = pin_line(actor=bench.smith, line=bench.order(bare).lines.get())
        assert not WorkOrder.objects.get(pk=line.order_id).is_open
        bare.refresh_from_db()
        assert bench.look(bare) == pins_of(bare)
        let_go_untried(actor=bench.smith, line=line, why="No key at hand")
        with pytest.raises(Missing):
            bench.look(bare)

    def test_a_core_that_was_tried_is_seen_as_long_as_another_of_its_order_waits(self, bench: Bench) -> None:
        """The sheet of an order is printed whole, until the last of its cores is built."""
        bare = [
            factories.make_core(actor=bench.smith, site=bench.site, system=bench.system, pinned=False)
            for _ in range(2)
        ]
        lines = [pin_line(actor=bench.smith, line=line) for line in bench.order(*bare).lines.all()]
        let_go_untried(actor=bench.smith, line=lines[0], why="No key at hand")
        bare[0].refresh_from_db()
        assert bench.look(bare[0])
        WorkOrder.objects.update(closed_at=timezone.now() - timedelta(days=15))
        with pytest.raises(Missing):
            bench.look(bare[0])

    def test_a_key_to_cut_is_seen_until_it_is_cut(self, bench: Bench) -> None:
        order = bench.cut_order("AA1")
        assert bench.look_at("AA1") == bitting_of(bench.key())
        with pytest.raises(Missing):
            bench.look_at("AA2")
        order.lines.update(state=OrderLine.State.CANCELLED)
        with pytest.raises(Missing):
            bench.look_at("AA1")

    def test_the_change_key_of_a_core_at_the_bench_is_seen_to_try_it(self, bench: Bench) -> None:
        bench.order()
        assert bench.look_at("AA1")
        with pytest.raises(Missing):
            bench.look_at("AB1")

    def test_work_that_people_gave_themselves_is_told_apart(self, bench: Bench) -> None:
        order = bench.order()
        bench.look()
        WorkOrder.objects.filter(pk=order.pk).update(opened_by=bench.cast.officer)
        bench.look()
        assert [seen.is_own_work for seen in Reveal.objects.order_by("at")] == [True, False]

    def test_work_that_others_gave_is_named_before_one_s_own(self, bench: Bench) -> None:
        own = bench.order()
        given = bench.order(bench_core(bench))
        OrderLine.objects.filter(order=given).update(core=bench.core, state="cancelled")
        OrderLine.objects.filter(order=given).update(
            state="done", done_at=timezone.now(), done_by=bench.smith
        )
        WorkOrder.objects.filter(pk=given.pk).update(opened_by=bench.cast.officer)
        bench.look()
        assert Reveal.objects.get().ground == f"for order {given.number}"
        assert own.number != given.number

    def test_own_work_never_takes_the_place_of_what_others_gave(
        self, bench: Bench, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        given, own = Ground("for work that was given"), Ground("for work of their own", is_own=True)
        for order in ([own, given], [given, own]):
            sources = [lambda _actor, things, each=each: {things[0].pk: each} for each in order]
            monkeypatch.setattr(grounds, "_sources", sources)
            assert grounds.work_naming(bench.smith, [bench.core]) == {bench.core.pk: given}


class TestSecondPerson:
    @pytest.mark.parametrize("name", ["A", "AA", "CTR"])
    def test_masters_and_the_control_key_are_never_seen_by_one_person(self, bench: Bench, name: str) -> None:
        bench.cut_order(name)
        with pytest.raises(Missing, match="A second person is needed"):
            bench.look_at(name)
        permit("key", bench.key(name), to=bench.smith, by=bench.cast.officer)
        assert bench.look_at(name) == bitting_of(bench.key(name))
        seen = Reveal.objects.get()
        assert (seen.is_high, seen.second, seen.by) == (True, bench.cast.officer, "permission")

    def test_a_core_for_masters_alone_is_as_good_as_a_master(self, bench: Bench) -> None:
        """With no other key in it, its breaks are the master's cuts."""
        core = factories.make_core(
            actor=bench.smith, site=bench.site, system=bench.system, symbols=[bench.key("AA")]
        )
        bench.order(core)
        with pytest.raises(Missing, match="A second person is needed"):
            bench.look(core)
        permit("core", core, to=bench.smith, by=bench.cast.officer)
        assert bench.look(core) == pins_of(core)

    def test_without_an_order_a_permission_is_the_ground(self, bench: Bench) -> None:
        permit("core", bench.core, to=bench.smith, by=bench.cast.officer)
        assert bench.look()
        event = history_of(bench.core)[0]
        assert event.sentence.endswith("as Officer permitted: For this test")

    def test_it_is_good_for_that_person_and_that_thing_alone(self, bench: Bench) -> None:
        permit("core", bench.core, to=bench.smith, by=bench.cast.officer)
        other_core = bench_core(bench)
        other_smith = factories.make_user(site=bench.site, role="locksmith")  # type: ignore[arg-type]
        with pytest.raises(Missing):
            bench.look(other_core)
        with pytest.raises(Missing):
            bench.look(actor=other_smith)
        with pytest.raises(Missing):
            bench.look_at("AA1")

    def test_a_permission_for_another_kind_of_look_is_none(self, bench: Bench) -> None:
        permit("near-keys", bench.core, to=bench.smith, by=bench.cast.officer)
        with pytest.raises(Missing):
            bench.look()

    def test_it_ends_by_itself(self, bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
        permission = permit("core", bench.core, to=bench.smith, by=bench.cast.officer, minutes=30)
        assert permission.until is not None
        at(monkeypatch, permission.until - timedelta(seconds=1))
        assert bench.look()
        at(monkeypatch, permission.until)
        with pytest.raises(Missing):
            bench.look()

    def test_a_first_look_shortens_it_to_a_quarter_of_an_hour(
        self, bench: Bench, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        permission = permit("core", bench.core, to=bench.smith, by=bench.cast.officer, minutes=480)
        first = timezone.now() + timedelta(hours=1)
        at(monkeypatch, first)
        bench.look()
        at(monkeypatch, first + timedelta(minutes=14, seconds=59))
        bench.look()
        permission.refresh_from_db()
        assert permission.used_at == first
        assert permission.is_open
        at(monkeypatch, first + timedelta(minutes=15))
        assert not permission.is_open
        with pytest.raises(Missing):
            bench.look()

    def test_what_was_taken_back_lets_nobody_look(self, bench: Bench) -> None:
        permission = permit("core", bench.core, to=bench.smith, by=bench.cast.officer)
        withdraw_permission(actor=bench.cast.officer, permission=permission)
        with pytest.raises(Missing):
            bench.look()

    def test_all_that_is_missing_is_told_at_once(self, bench: Bench) -> None:
        with pytest.raises(Missing) as refusal:
            reveal(
                actor=bench.smith,
                sign_in=proven(bench.smith),
                wanted=lambda: [
                    question(bench, thing=bench.key(name), is_question=False, is_high=True, words=name)
                    for name in ("A", "AA", "CTR")
                ],
            )
        assert [way.label for way in refusal.value.ways] == [
            f"Ask to see {name}" for name in ("A", "AA", "CTR")
        ]


class TestSignIn:
    def test_one_of_five_minutes_ago_is_fresh_and_an_older_one_is_not(
        self, bench: Bench, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        bench.order()
        moment = timezone.now()
        monkeypatch.setattr(timezone, "now", lambda: moment)
        fresh = FreshSignIn(bench.smith.pk, moment - timedelta(minutes=5))
        reveal_pinning(actor=bench.smith, core=bench.core, sign_in=fresh)
        old = FreshSignIn(bench.smith.pk, moment - timedelta(minutes=5, microseconds=1))
        with pytest.raises(SignInAgain):
            reveal_pinning(actor=bench.smith, core=bench.core, sign_in=old)
        assert looks_of(bench.smith) == 1

    def test_another_s_proof_is_none(self, bench: Bench) -> None:
        bench.order()
        with pytest.raises(SignInAgain):
            reveal_pinning(actor=bench.smith, core=bench.core, sign_in=proven(bench.cast.officer))
        assert not Reveal.objects.exists()


class TestHistory:
    def test_it_is_committed_before_anything_is_opened(self, bench: Bench) -> None:
        """The first savepoint is the test's own; inside ``open`` no other stands open."""
        depths: list[tuple[int, int]] = []

        def open() -> str:
            depths.append((len(connection.savepoint_ids), Event.objects.filter(verb="test.asked").count()))
            return "seen"

        before = len(connection.savepoint_ids)
        reveal(actor=bench.smith, sign_in=proven(bench.smith), wanted=lambda: [question(bench, open)])
        assert depths == [(before, 1)]

    def test_it_refuses_to_run_inside_somebody_s_transaction(self, bench: Bench) -> None:
        with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
            reveal(actor=bench.smith, sign_in=proven(bench.smith), wanted=lambda: [question(bench)])

    def test_it_keeps_the_look_though_the_vault_does_not_open(self, bench: Bench) -> None:
        bench.order()
        Core.objects.filter(pk=bench.core.pk).update(pinning=b"\x01" + bytes(60))
        bench.core.refresh_from_db()
        with pytest.raises(Tampered):
            bench.look()
        assert history_of(bench.core)[0].verb == "core.pinning_shown"
        assert looks_of(bench.smith) == 1

    def test_each_look_has_one_event_of_the_same_person(self, bench: Bench) -> None:
        bench.order()
        bench.look()
        bench.look()
        events = [seen.event for seen in Reveal.objects.all()]
        assert len(set(events)) == 2
        assert {event.actor for event in events} == {bench.smith}
        assert list(law.breaches()) == []

    def test_looks_are_never_changed_nor_taken_out(self, bench: Bench) -> None:
        bench.order()
        bench.look()
        seen = Reveal.objects.get()
        with pytest.raises(TypeError):
            seen.save()
        with pytest.raises(TypeError):
            seen.delete()
        with pytest.raises(TypeError):
            Reveal.objects.update(words="nothing")

    def test_no_bitting_stands_in_looks_permissions_or_events(self, bench: Bench) -> None:
        permit("key", bench.key("A"), to=bench.smith, by=bench.cast.officer)
        bench.look_at("A")
        words = repr([*Reveal.objects.values(), *Permission.objects.values(), *Event.objects.values()])
        secrets = [bitting_of(symbol) for symbol in KeySymbol.objects.filter(system=bench.system)]
        assert [secret for secret in secrets if secret in words] == []


class TestRoles:
    @pytest.mark.parametrize("name", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
    def test_an_order_opens_nothing_for_another_role(self, bench: Bench, name: str) -> None:
        bench.order()
        with pytest.raises(PermissionDenied):
            bench.look(actor=bench.cast.everybody[name])
        assert not Reveal.objects.exists()

    def test_a_stranger_finds_nothing(self, bench: Bench) -> None:
        bench.order()
        with pytest.raises(Http404):
            bench.look(actor=bench.cast.stranger)

    def test_a_permission_outlives_no_role(self, bench: Bench) -> None:
        permit("core", bench.core, to=bench.smith, by=bench.cast.officer)
        bench.smith.memberships.update(role="key-desk")
        with pytest.raises(PermissionDenied):
            bench.look()


class TestLaw:
    def test_a_look_by_a_permission_that_did_not_let_it_is_found(self, bench: Bench) -> None:
        permission = permit("core", bench.core, to=bench.smith, by=bench.cast.officer)
        bench.look()
        Permission.objects.filter(pk=permission.pk).update(subject_id=bench.key().pk)
        assert [words for words in law.breaches() if "did not let them" in words]

    def test_a_look_that_history_knows_of_another_is_found(self, bench: Bench) -> None:
        bench.order()
        bench.look()
        QuerySet(Reveal).update(actor=bench.cast.officer)
        assert [words for words in law.breaches() if "somebody else did" in words]


def at(monkeypatch: pytest.MonkeyPatch, moment: object) -> None:
    monkeypatch.setattr(timezone, "now", lambda: moment)


def bench_core(bench: Bench) -> Core:
    return factories.make_core(actor=bench.smith, site=bench.site, system=bench.system)


def test_what_is_refused_in_a_service_is_refused_before_it_counts(bench: Bench) -> None:
    bare = factories.make_core(actor=bench.smith, site=bench.site, system=bench.system, pinned=False)
    with pytest.raises(Refused, match="not pinned yet"):
        bench.look(bare)
    assert not Reveal.objects.exists()
