"""Many tablets that come back at once: thousands of queued facts over HTTP, with repeats and lost answers.

Each tablet has doors and cores of its own and knows what its facts make of them; one core all of them move.
"""

import json
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from random import Random
from urllib.parse import urlsplit

from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.field import services
from keyctl.field.models import FieldEvent, RejectedEvent
from keyctl.field.views.api import COOKIE
from keyctl.places.models import Building, Door, Floor, Housing, Membership, Site
from keyctl.places.roles import Role
from tests.keyctl.field.simulator.book import OUTSIDE, Json, Spot, inside
from tests.keyctl.field.simulator.ground import spot_of
from tests.keyctl.field.simulator.server import APPLIED, CONFLICT, DUPLICATE
from tests.keyctl.field.simulator.tablet import Pack, Tablet

DOORS, SPARES = 6, 4
BATCH = 50
LOST, AGAIN = 0.2, 0.1


@dataclass
class Lane:
    """One tablet with its person, its doors and its facts, and what it heard."""

    tablet: Tablet
    cookies: dict[str, str]
    housings: list[str]
    rng: Random
    sent: Counter[str] = field(default_factory=Counter)
    first: dict[str, str] = field(default_factory=dict)
    seconds: list[float] = field(default_factory=list)

    def write(self, facts: int, shared: str) -> None:
        for n in range(facts - 1):
            self._swap() if n % 5 < 2 else self._put() if n % 5 < 4 else self._note()
        body = {"core": shared, "core_version": 1, "place": "bench"}
        self.tablet.write("put", body, timezone.now())

    def _free(self) -> str:
        pack = self.tablet.pack
        return self.rng.choice([tag for tag, spot in pack.spots.items() if spot[0] in OUTSIDE])

    def _swap(self) -> None:
        pack, housing, core_in = self.tablet.pack, self.rng.choice(self.housings), self._free()
        core_out = next(tag for tag, spot in pack.spots.items() if spot == inside(housing))
        body: Json = {"line": None, "housing": housing, "put_at": self.rng.choice(OUTSIDE), "note": ""}
        body |= {"core_in": core_in, "core_in_version": pack.versions[core_in]}
        body |= {"core_out": core_out, "core_out_version": pack.versions[core_out]}
        body |= dict.fromkeys(
            ("operating_key_turned", "control_key_came_out", "egress_and_latch_tried"), True
        )
        self.tablet.write("swapped", body, timezone.now())

    def _put(self) -> None:
        core = self._free()
        body = {
            "core": core,
            "core_version": self.tablet.pack.versions[core],
            "place": self.rng.choice(OUTSIDE),
        }
        self.tablet.write("put", body, timezone.now())

    def _note(self) -> None:
        body = {"door": None, "line": None, "text": f"Remark {self.rng.random()}"}
        self.tablet.write("noted", body, timezone.now())

    def send_all(self, address: str) -> None:
        """Until every fact was answered; now and then the answer is lost, or a batch goes out once more."""
        host = urlsplit(address)
        wire = HTTPConnection(host.hostname or "", host.port, timeout=300)
        token = self._greet(wire)
        while self.tablet.outbox:
            envelope = self.tablet.envelope(timezone.now(), 0, BATCH)
            answers = self._post(wire, envelope, token)
            if self.rng.random() < LOST:
                continue
            self.tablet.take_answers(answers)
            if self.rng.random() < AGAIN:
                self._post(wire, envelope, token)
        wire.close()

    def _greet(self, wire: HTTPConnection) -> str:
        wire.request("GET", reverse("field:state"), headers=self._headers())
        answer = wire.getresponse()
        token = str(json.loads(answer.read())["csrf"])
        for name, morsel in SimpleCookie(answer.headers["Set-Cookie"]).items():
            self.cookies[name] = morsel.value
        return token

    def _headers(self) -> dict[str, str]:
        return {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}

    def _post(self, wire: HTTPConnection, envelope: Json, token: str) -> list[Json]:
        headers = self._headers() | {"X-CSRFToken": token, "Content-Type": "application/json"}
        begun = time.perf_counter()
        wire.request("POST", reverse("field:events"), json.dumps(envelope), headers)
        answer = wire.getresponse()
        told = json.loads(answer.read())
        self.seconds.append(time.perf_counter() - begun)
        assert answer.status == 200, told
        for each in told["answers"]:
            self._hear(each)
        answers: list[Json] = told["answers"]
        return answers

    def _hear(self, answer: Json) -> None:
        self.sent[answer["outcome"]] += 1
        name = answer["event_id"]
        if answer["outcome"] == DUPLICATE:
            assert answer["first_outcome"] == self.first[name]
        else:
            assert name not in self.first, "one fact was taken twice"
            self.first[name] = answer["outcome"]


class Storm:
    def __init__(self, tablets: int, facts_each: int) -> None:
        self.site = Site.objects.create(code="STORM", name="Stormy site")
        building = Building.objects.create(site=self.site, code="A", name="House A")
        self.floor = Floor.objects.create(building=building, label="0", level=0)
        self.facts = tablets * facts_each
        self.lanes = [self._lane(n) for n in range(tablets)]
        shared = self._core(self.lanes[0].tablet.holder, place="shelf")
        for lane in self.lanes:
            lane.write(facts_each, shared.tag)

    def _lane(self, n: int) -> Lane:
        user = User.objects.create_user(f"smith-{n}", display_name=f"Smith {n}")
        Membership.objects.create(user=user, site=self.site, role=Role.LOCKSMITH)
        proof = services.register_device(actor=user, site=self.site, name=f"Tablet {n}").proof
        doors = Door.objects.bulk_create(Door(floor=self.floor, number=f"{n}-{d}") for d in range(DOORS))
        housings = Housing.objects.bulk_create(
            Housing(door=door, kind=Housing.Kind.MORTISE, construction="small-format") for door in doors
        )
        cores = [self._core(str(user.pk), place="housing", housing=body) for body in housings]
        cores += [self._core(str(user.pk), place="shelf") for _ in range(SPARES)]
        spots = {core.tag: spot_of(core) for core in cores}
        pack = Pack(spots, dict.fromkeys(spots, 1), {}, 1)
        rng, person = Random(n), str(user.pk)
        tablet = Tablet(proof.split(".")[0], rng, pack, person, person)
        cookies = {COOKIE: proof, settings.SESSION_COOKIE_NAME: session_of(user)}
        return Lane(tablet, cookies, [str(body.pk) for body in housings], rng)

    def _core(self, pinned_by: str, **where: object) -> Core:
        pins = {"pinning": b"sealed", "pinned_at": timezone.now(), "pinned_by_id": pinned_by}
        kind = {"format_id": "small-a2-7", "construction": "small-format"}
        return Core.objects.create(site=self.site, **kind, **pins, **where)

    def break_out(self, address: str) -> float:
        """All tablets at once; the seconds until the last fact was answered."""
        begun = time.perf_counter()
        with ThreadPoolExecutor(len(self.lanes)) as pool:
            list(pool.map(lambda lane: lane.send_all(address), self.lanes))
        return time.perf_counter() - begun

    def check(self) -> Counter[str]:
        """Nothing lost, nothing doubled: facts, effects, and where each core is."""
        first = Counter(outcome for lane in self.lanes for outcome in lane.first.values())
        assert first == {APPLIED: self.facts - len(self.lanes) + 1, CONFLICT: len(self.lanes) - 1}, first
        assert FieldEvent.objects.count() == self.facts
        assert not RejectedEvent.objects.exists()
        kinds = Counter(FieldEvent.objects.filter(outcome=APPLIED).values_list("kind", flat=True))
        verbs = Counter(Event.objects.filter(verb__startswith="core.").values_list("verb", flat=True))
        assert verbs == {"core.swapped": kinds["swapped"], "core.moved": kinds["put"]}
        foreseen: dict[str, tuple[Spot, int]] = {}
        for lane in self.lanes:
            pack = lane.tablet.pack
            foreseen |= {tag: (spot, pack.versions[tag]) for tag, spot in pack.spots.items()}
        cores = Core.objects.filter(disputed_at__isnull=True)
        assert {core.tag: (spot_of(core), core.version) for core in cores} == foreseen
        return sum((lane.sent for lane in self.lanes), Counter())


def session_of(user: User) -> str:
    client = Client()
    client.force_login(user)
    return client.cookies[settings.SESSION_COOKIE_NAME].value
