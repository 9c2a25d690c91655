"""Pins for a program: behind a window that an officer opened, on a ground, counted, written down first."""

import json
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError
from django.http import Http404
from django.utils import timezone
from pytest_django import Settings

from keyctl.accounts.models import User
from keyctl.api.models import KeptAnswer, PinningWindow, Scope, Token
from keyctl.api.services import create_token, revoke_token
from keyctl.api.windows import close_window, open_window
from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import open_pin_order, open_swap_order
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.reveals.models import Limits, Permission, Reveal
from keyctl.reveals.services import decline, grant
from tests.api.client import SCOPES, Api, make_api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_core, make_housing, make_user, symbol
from tests.signing import proven

HERE = "127.0.0.1"
PINS = [Scope.PINNING_READ]


@dataclass(frozen=True)
class Reader:
    api: Api
    token: Token
    officer: User
    order: WorkOrder
    core: Core

    def look(self, core: Core, **ground: Any) -> Any:
        named = {name: str(thing.pk) for name, thing in (ground or {"order": self.order}).items()}
        return self.api.post(f"cores/{core.pk}/pinning/", named, key="")

    def ask(self, core: Core, reason: str = "The key machine needs it") -> Any:
        return self.api.post(f"cores/{core.pk}/pinning/ask/", {"reason": reason}, key="")

    def open(self, minutes: int = 30) -> PinningWindow:
        return open_window(
            actor=self.officer,
            token=self.token,
            sign_in=proven(self.officer),
            minutes=minutes,
            reason="New cores",
        )


@pytest.fixture
def reader(cast: Cast, estate: Estate) -> Reader:
    """A token for pins, and an order of a locksmith that names the core."""
    api = make_api(cast.administrator, cast.north, scopes=PINS, networks=HERE)
    assert api.bearer
    token = Token.objects.get(prefix=api.bearer.split("_")[1])
    core = make_core(actor=cast.locksmith, site=cast.north, system=estate.system)
    order = open_pin_order(actor=cast.locksmith, site=cast.north, title="Bench", cores=[core])
    return Reader(api, token, cast.officer, order, core)


def make(cast: Cast, **facts: Any) -> Token:
    given: dict[str, Any] = {
        "name": "Key machine",
        "sites": [cast.north],
        "scopes": PINS,
        "networks": "192.0.2.7",
        "expires_on": timezone.localdate() + timedelta(days=30),
    }
    return create_token(actor=cast.administrator, **given | facts)[0]


class TestTheToken:
    @pytest.mark.parametrize(
        ("facts", "words"),
        [
            ({"scopes": [Scope.PINNING_READ, Scope.ESTATE_READ]}, "does only that"),
            ({"networks": ""}, "named networks only"),
            ({"networks": "0.0.0.0/0"}, "too wide"),
            ({"networks": "192.0.2.7 2001:db8::/32"}, "too wide"),
            ({"days": 31}, "within 30 days"),
        ],
    )
    def test_it_is_bound_alone_and_short_lived(self, cast: Cast, facts: dict[str, Any], words: str) -> None:
        if days := facts.pop("days", None):
            facts["expires_on"] = timezone.localdate() + timedelta(days=days)
        with pytest.raises(Refused, match=words):
            make(cast, **facts)
        assert make(cast).scopes == "pinning:read"

    def test_the_database_holds_it_too(self, cast: Cast) -> None:
        with pytest.raises(IntegrityError):
            Token.objects.filter(pk=make(cast).pk).update(networks="")

    def test_no_other_token_reads_pins(self, cast: Cast, estate: Estate) -> None:
        every = make_api(cast.administrator, cast.north, scopes=SCOPES)
        answer = every.post(f"cores/{estate.core.pk}/pinning/", {}, key="")
        assert "pinning:read" in problem(answer, 403, "forbidden")["detail"]

    def test_it_reads_nothing_else(self, reader: Reader) -> None:
        for path in ("cores/", "work-orders/", "events/", "keys/"):
            problem(reader.api.get(path), 403, "forbidden")


class TestTheWindow:
    def test_without_one_nothing_is_seen(self, reader: Reader) -> None:
        answer = problem(reader.look(reader.core), 422, "refused")
        assert "No window is open" in answer["detail"]
        assert not Reveal.objects.exists()

    def test_nobody_opens_one_for_a_token_they_made(self, cast: Cast, reader: Reader) -> None:
        Membership.objects.create(user=cast.administrator, site=cast.north, role=Role.OFFICER)
        with pytest.raises(Refused, match="made this token yourself"):
            open_window(
                actor=cast.administrator,
                token=reader.token,
                sign_in=proven(cast.administrator),
                minutes=30,
                reason="x",
            )

    @pytest.mark.parametrize("name", ["locksmith", "administrator", "manager", "auditor", "desk"])
    def test_only_an_officer_opens_one(self, cast: Cast, reader: Reader, name: str) -> None:
        actor = cast.everybody[name]
        with pytest.raises(PermissionDenied):
            open_window(actor=actor, token=reader.token, sign_in=proven(actor), minutes=30, reason="x")

    def test_an_officer_of_one_site_does_not_open_what_reaches_two(self, cast: Cast, reader: Reader) -> None:
        Membership.objects.create(user=reader.token.user, site=cast.south, role=Role.INTEGRATION)
        with pytest.raises(Http404):
            reader.open()

    def test_it_takes_a_fresh_sign_in_a_time_and_a_reason(self, cast: Cast, reader: Reader) -> None:
        facts: dict[str, Any] = {"actor": cast.officer, "token": reader.token, "minutes": 30, "reason": "x"}
        with pytest.raises(Refused, match="Prove once more"):
            open_window(sign_in=proven(cast.locksmith), **facts)
        with pytest.raises(Refused, match="for how long"):
            open_window(sign_in=proven(cast.officer), **facts | {"minutes": 481})
        with pytest.raises(Refused, match="what for"):
            open_window(sign_in=proven(cast.officer), **facts | {"reason": " "})

    def test_one_at_a_time_and_only_for_a_token_for_pins(self, cast: Cast, reader: Reader) -> None:
        reader.open()
        with pytest.raises(Conflict, match="already"):
            reader.open()
        make_api(cast.administrator, cast.north)
        other = Token.objects.exclude(scopes="pinning:read").latest("created_at")
        with pytest.raises(Refused, match="no scope for pins"):
            open_window(actor=cast.officer, token=other, sign_in=proven(cast.officer), minutes=30, reason="x")

    def test_it_ends_by_itself_by_hand_and_with_its_token(self, cast: Cast, reader: Reader) -> None:
        window = reader.open()
        assert reader.look(reader.core).status_code == 200
        close_window(actor=cast.officer, token=reader.token)
        problem(reader.look(reader.core), 422, "refused")
        PinningWindow.objects.filter(pk=window.pk).update(
            closed_at=None, opened_at=timezone.now() - timedelta(hours=2), until=timezone.now()
        )
        problem(reader.look(reader.core), 422, "refused")
        reader.open()
        revoke_token(actor=cast.administrator, token=reader.token)
        problem(reader.look(reader.core), 401, "not-authenticated")
        assert Reveal.objects.count() == 1

    def test_history_tells_who_opened_it_at_every_site(self, cast: Cast, reader: Reader) -> None:
        reader.open()
        close_window(actor=cast.officer, token=reader.token)
        told = Event.objects.filter(verb__startswith="token.pins").order_by("id")
        assert [(event.verb, event.actor) for event in told] == [
            ("token.pins_opened", cast.officer),
            ("token.pins_closed", cast.officer),
        ]
        assert "New cores" in told[0].sentence

    def test_from_another_network_it_reads_nothing(self, cast: Cast, reader: Reader) -> None:
        far = make_api(cast.administrator, cast.north, scopes=PINS, networks="192.0.2.7")
        problem(far.post(f"cores/{reader.core.pk}/pinning/", {}, key=""), 403, "foreign-network")


class TestTheGround:
    def test_pins_are_read_for_an_order(self, reader: Reader) -> None:
        reader.open()
        answer = reader.look(reader.core)
        held = pins_of(reader.core)
        assert answer.json() == {
            "core": {"id": str(reader.core.pk), "tag": reader.core.tag},
            "format": held.format.id,
            "stacks": [
                {
                    "position": each.position,
                    "bottom": each.bottom,
                    "masters": list(each.masters),
                    "control": each.control,
                    "top": each.top,
                }
                for each in held.stacks
            ],
        }
        assert "no-store" in answer["Cache-Control"]
        assert "ETag" not in answer

    def test_an_order_of_another_core_or_of_other_work_is_none(
        self, reader: Reader, estate: Estate, cast: Cast
    ) -> None:
        reader.open()
        swap = open_swap_order(
            actor=cast.locksmith,
            site=cast.north,
            title="Door work",
            housings=[make_housing(cast.north)],
        )
        other = make_core(actor=cast.locksmith, site=cast.north, system=estate.system)
        swap.lines.update(core=other)
        for core, order in ((other, reader.order), (other, swap)):
            answer = problem(reader.look(core, order=order), 422, "refused")
            assert "does not name" in answer["detail"]
        WorkOrder.objects.filter(pk=reader.order.pk).update(state="cancelled", closed_at=timezone.now())
        problem(reader.look(reader.core), 422, "refused")

    def test_an_order_that_a_program_opened_is_none(self, reader: Reader, estate: Estate, cast: Cast) -> None:
        """Else one program would give the other all the work it wants."""
        reader.open()
        other = make_api(cast.administrator, cast.north, scopes=[Scope.ORDERS_READ, Scope.ORDERS_WRITE])
        core = make_core(actor=cast.locksmith, site=cast.north, system=estate.system)
        body = {"kind": "pin", "site": str(cast.north.pk), "title": "x", "cores": [str(core.pk)]}
        opened = WorkOrder.objects.get(pk=other.post("work-orders/", body).json()["id"])
        answer = problem(reader.look(core, order=opened), 422, "refused")
        assert "opened by a program" in answer["detail"]

    def test_a_masters_own_core_takes_a_second_person(
        self, reader: Reader, estate: Estate, cast: Cast
    ) -> None:
        reader.open()
        core = make_core(
            actor=cast.locksmith, site=cast.north, system=estate.system, symbols=[symbol(estate.system, "AA")]
        )
        order = open_pin_order(actor=cast.locksmith, site=cast.north, title="High", cores=[core])
        assert "second person" in problem(reader.look(core, order=order), 422, "refused")["detail"]
        asked = Permission.objects.get(pk=reader.ask(core).json()["id"])
        problem(reader.look(core, permission=asked), 422, "refused")
        grant(actor=cast.officer, permission=asked, sign_in=proven(cast.officer), minutes=30, decision="Yes")
        assert reader.look(core, permission=asked).status_code == 200
        seen = Reveal.objects.get()
        assert (seen.by, seen.second, seen.is_high) == ("permission", cast.officer, True)

    def test_what_was_declined_or_is_for_another_thing_lets_nobody_look(
        self, reader: Reader, estate: Estate, cast: Cast
    ) -> None:
        reader.open()
        asked = Permission.objects.get(pk=reader.ask(estate.spare).json()["id"])
        grant(actor=cast.officer, permission=asked, sign_in=proven(cast.officer), minutes=30, decision="Yes")
        problem(reader.look(reader.core, permission=asked), 422, "refused")
        no = Permission.objects.get(pk=reader.ask(reader.core).json()["id"])
        decline(actor=cast.officer, permission=no, decision="No")
        problem(reader.look(reader.core, permission=no), 422, "refused")

    def test_a_permission_of_somebody_else_is_not_found(self, reader: Reader, cast: Cast) -> None:
        reader.open()
        theirs = Permission.objects.create(
            kind="core",
            subject_id=reader.core.pk,
            words="x",
            site=cast.north,
            asked_by=cast.locksmith,
            reason="x",
        )
        problem(reader.look(reader.core, permission=theirs), 400, "invalid")

    @pytest.mark.parametrize("body", [{}, {"order": 0, "permission": 0}])
    def test_one_ground_is_named(self, reader: Reader, body: dict[str, Any]) -> None:
        reader.open()
        named = {name: str(reader.order.pk) for name in body}
        problem(reader.api.post(f"cores/{reader.core.pk}/pinning/", named, key=""), 400, "invalid")


class TestTheLook:
    def test_it_is_written_down_before_and_counts(self, reader: Reader) -> None:
        reader.open()
        reader.look(reader.core)
        seen, told = Reveal.objects.get(), Event.objects.get(verb="core.pinning_shown")
        assert (seen.actor, seen.by, seen.ground) == (
            reader.token.user,
            "work",
            f"for order {reader.order.number}",
        )
        assert (told.actor, told.actor_name) == (reader.token.user, "Invented integration")
        subjects = {(each.kind, each.subject_id) for each in told.subjects.all()}
        assert subjects >= {("api.token", reader.token.pk), ("orders.workorder", reader.order.pk)}

    def test_the_quota_holds(self, reader: Reader, cast: Cast) -> None:
        Limits.objects.create(site=cast.north, at_work_an_hour=1, at_work_a_day=1)
        reader.open()
        assert reader.look(reader.core).status_code == 200
        assert "more than may be looked at" in problem(reader.look(reader.core), 422, "refused")["detail"]

    def test_no_pins_stand_in_history_or_in_a_kept_answer(self, reader: Reader) -> None:
        reader.open()
        stacks = json.dumps(reader.look(reader.core).json()["stacks"])
        told = json.dumps([[event.sentence, event.detail] for event in Event.objects.all()])
        assert stacks not in told
        assert '"bottom"' not in told
        assert not KeptAnswer.objects.exists()

    @pytest.mark.parametrize("path", ["", "ask/"])
    def test_it_is_never_kept_for_a_key(self, reader: Reader, path: str) -> None:
        reader.open()
        body = {"reason": "x"} if path else {"order": str(reader.order.pk)}
        answer = reader.api.post(f"cores/{reader.core.pk}/pinning/{path}", body, key="again")
        assert [error["header"] for error in problem(answer, 400, "invalid")["errors"]] == ["Idempotency-Key"]
        assert not Reveal.objects.exists()

    def test_it_is_no_get(self, reader: Reader) -> None:
        problem(reader.api.get(f"cores/{reader.core.pk}/pinning/"), 405, "method-not-allowed")

    def test_a_sealed_vault_is_told_apart_and_no_look_is_written(
        self,
        reader: Reader,
        settings: Settings,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        reader.open()
        monkeypatch.delenv("KEYCTL_VAULT_KEY")
        settings.VAULT_KEY_FILE = settings.DATA_DIR / "no-such-file"
        problem(reader.look(reader.core), 503, "vault-sealed")
        assert not Reveal.objects.exists()

    def test_a_bare_core_shows_nothing(self, reader: Reader, estate: Estate, cast: Cast) -> None:
        reader.open()
        bare = make_core(actor=cast.locksmith, site=cast.north, system=estate.system, pinned=False)
        assert "not pinned yet" in problem(reader.look(bare), 422, "refused")["detail"]

    def test_a_foreign_core_is_not_found(self, cast: Cast, reader: Reader) -> None:
        administrator = make_user(site=cast.south, role=Role.ADMINISTRATOR)
        far = make_api(administrator, cast.south, scopes=PINS, networks=HERE)
        for path in ("pinning/", "pinning/ask/"):
            problem(far.post(f"cores/{reader.core.pk}/{path}", {}, key=""), 404, "not-found")


def test_an_officer_is_asked_by_mail_and_nobody_writes_to_a_program(
    reader: Reader, estate: Estate, cast: Cast
) -> None:
    answer = reader.ask(reader.core)
    assert (answer.status_code, answer.json()["state"]) == (201, "asked")
    asked = Permission.objects.get(pk=answer.json()["id"])
    assert asked.words == f"the pinning of core {reader.core}, by the program Invented integration"
    problem(reader.ask(reader.core), 409, "conflict")
    problem(reader.ask(reader.core, " "), 400, "invalid")
