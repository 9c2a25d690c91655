"""One game: people move cores and write on tablets, the network does its worst, and at last all comes in."""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from tests.keyctl.field.simulator.book import Book, Estate, Json, inside
from tests.keyctl.field.simulator.doing import Doing
from tests.keyctl.field.simulator.referee import Referee
from tests.keyctl.field.simulator.server import Row, Server
from tests.keyctl.field.simulator.tablet import Pack, Tablet

# How often each thing happens, in shares; what cannot happen at a moment is drawn again.
SHARES = {
    "act": 10,
    "send": 6,
    "arrive": 2,
    "look": 2,
    "page": 2.5,
    "expire": 0.7,
    "sign_in": 1,
    "hand_over": 0.5,
    "jump": 0.6,
    "withdraw": 0.3,
    "steal": 0.5,
    "wipe": 0.4,
    "settle": 1,
    "hand_in": 0.3,
}
# By how much more, or less, in worlds of one mood; nobody comes between whoever works alone.
MOODS: dict[str, dict[str, float]] = {
    "mixed": {},
    "tangle": {"settle": 6, "look": 0.3, "page": 0.3, "send": 1.5, "wipe": 0, "withdraw": 0, "expire": 0.3},
    "loss": {"wipe": 4, "withdraw": 4, "steal": 3, "hand_in": 3},
    "calm": dict.fromkeys(["page", "hand_over", "withdraw", "steal", "wipe", "hand_in", "settle"], 0),
}
# How often a tablet sends what it wrote later before what it wrote first.
HURRIES = {"mixed": 0.05, "tangle": 0.05, "loss": 0.4, "calm": 0}
LAST_BATCH = {"mixed": 6, "tangle": 1, "loss": 6, "calm": 6}
AWAY = {"mixed": 0.1, "tangle": 0.5, "loss": 0, "calm": 0}
# What becomes of a batch: it and its answer come through, it is lost, it comes later, its answer is lost.
BAD_HOUR = {"good": 5, "lost": 1.5, "late": 1.5, "unanswered": 2}
GOOD_HOUR = {"good": 7, "lost": 0.5, "late": 1, "unanswered": 1.5}
LARGEST_BATCH = {"mixed": 4, "tangle": 1, "loss": 2, "calm": 4}


@dataclass
class Message:
    """A batch under way, as it was sent."""

    actor: str | None
    envelope: Json
    device: str


@dataclass
class Game:
    rng: Random
    estate: Estate
    server: Server
    begun: datetime
    # Whether tablets ask for a pack at any time, as they must not.
    hasty: bool = False
    under_way: list[Message] = field(default_factory=list)
    set_aside: set[str] = field(default_factory=set)
    stolen: set[str] = field(default_factory=set)
    # The tablet that is in a cellar all day, and comes with old facts when all others were heard.
    away: str = ""

    def __post_init__(self) -> None:
        stray = {self.estate.stray: ("shelf", "")} if self.estate.stray else {}
        self.book = Book(dict(self.estate.spots) | stray)
        self.referee = Referee(self.estate, self.book, self.server)
        self.now = self.begun
        if self.rng.random() < AWAY[self.estate.mood]:
            self.away = self.estate.devices[-1]
        self.tablets = [self._tablet(device) for device in self.estate.devices]
        self.doing = Doing(self.rng, self.estate, self.book, self.referee)

    def _tablet(self, device: str) -> Tablet:
        holder = self.rng.choice(self.estate.people)
        tablet = Tablet(device, self.rng, self._pack(device), holder, holder)
        if self.rng.random() < 0.3:
            tablet.offset = self._some_time(days=2)
        return tablet

    def go_on(self, steps: int) -> None:
        mood = MOODS[self.estate.mood]
        shares = [share * mood.get(name, 1) for name, share in SHARES.items()]
        for name in self.rng.choices(list(SHARES), shares, k=steps):
            self.now += timedelta(seconds=self.rng.randint(1, 900))
            act: Callable[[Tablet], None] = getattr(self, f"_{name}")
            act(self.rng.choice(self.tablets))

    def branch(self, server: Server, rng: Random) -> "Game":
        """The same world at the same moment, which from here on goes another way."""
        kept = {id(event): event for event in self.referee.written.values()}
        replaced = {id(self.server): server, id(self.estate): self.estate, id(self.rng): rng}
        return deepcopy(self, {**kept, **replaced})

    def _pack(self, device: str) -> Pack:
        pack = self.server.pack(device)
        for tag in self.estate.unseen:
            del pack.spots[tag], pack.versions[tag]
        return pack

    def _some_time(self, days: int) -> timedelta:
        return timedelta(seconds=self.rng.uniform(-days, days) * 86_400)

    # At the door

    def _act(self, tablet: Tablet) -> None:
        if tablet.device not in self.stolen:
            self.doing.act(tablet, self.now)

    def _page(self, _tablet: Tablet) -> None:
        self.doing.by_page(self.rng.choice(self.estate.people))

    def _steal(self, tablet: Tablet) -> None:
        """Whoever has a withdrawn tablet tells of what never happened."""
        if tablet.device in self.referee.withdrawn and tablet.sequence:
            self.stolen.add(tablet.device)
            self.doing.make_up(tablet, self.now)

    # The network

    def _send(self, tablet: Tablet) -> None:
        if tablet.device == self.away:
            return
        first = 0
        if self.rng.random() < HURRIES[self.estate.mood]:
            # Two windows of one tablet, or a file out of order.
            first = self.rng.randrange(len(tablet.outbox) + 1)
        envelope = tablet.envelope(self.now, first, self.rng.randint(1, LARGEST_BATCH[self.estate.mood]))
        if not envelope["events"]:
            return
        self._hand_to_network(tablet, Message(tablet.person, envelope, tablet.device), BAD_HOUR)

    def _hand_to_network(self, tablet: Tablet, message: Message, hour: dict[str, float]) -> None:
        way = self.rng.choices(list(hour), list(hour.values()))[0]
        if way == "late" or self.rng.random() < 0.2:
            self.under_way.append(message)
        if way in {"good", "unanswered"}:
            answers = self._deliver(message)
            if answers is not None and way == "good":
                tablet.take_answers(answers)

    def have_a_good_hour(self) -> None:
        """Most tablets are in reach for a while, and the office looks into what is open."""
        for tablet in self.tablets:
            if tablet.outbox and tablet.device != self.away and self.rng.random() < 0.9:
                message = Message(tablet.person, tablet.envelope(self.now, 0, 6), tablet.device)
                self._hand_to_network(tablet, message, GOOD_HOUR)
        if self.rng.random() < 0.7:
            self._settle_all()

    def _deliver(self, message: Message) -> list[Json] | None:
        return self.referee.take(message.actor, message.envelope, device=message.device)

    def _arrive(self, _tablet: Tablet) -> None:
        """A batch that was under way for a while; its tablet waits no longer for the answer."""
        if self.under_way:
            at = self.rng.randrange(len(self.under_way))
            message = self.under_way[at] if self.rng.random() < 0.3 else self.under_way.pop(at)
            self._deliver(message)

    def _look(self, tablet: Tablet) -> None:
        """A new pack is asked for only where nothing waits to be sent: what is unsent is in no pack."""
        if tablet.person is not None and (self.hasty or not tablet.outbox):
            tablet.lay(self._pack(tablet.device))

    def _hand_in(self, tablet: Tablet) -> None:
        """The outbox as a file, by whoever sits at an office page."""
        envelope = tablet.envelope(self.now, 0, 200) | {"exported_at": self.now.isoformat()}
        if envelope["events"]:
            self._deliver(Message(self.rng.choice(self.estate.people), envelope, ""))

    # Tablets and clocks

    def _expire(self, tablet: Tablet) -> None:
        tablet.person = None

    def _sign_in(self, tablet: Tablet) -> None:
        tablet.person = tablet.holder

    def _hand_over(self, tablet: Tablet) -> None:
        tablet.holder = self.rng.choice(self.estate.people)

    def _jump(self, tablet: Tablet) -> None:
        tablet.offset = self._some_time(days=400) if self.rng.random() < 0.3 else self._some_time(days=1)

    def _withdraw(self, tablet: Tablet) -> None:
        if tablet.device not in self.referee.withdrawn:
            self.server.withdraw(tablet.device)
            self.referee.withdrawn.add(tablet.device)

    def _wipe(self, tablet: Tablet) -> None:
        if tablet.person is not None:
            tablet.wipe(self._pack(tablet.device))

    # In the office

    def _settle(self, _tablet: Tablet) -> None:
        if cases := sorted(self.server.cases()):
            self._settle_one(self.rng.choice(cases))

    def _settle_one(self, case: str) -> bool:
        register = self.referee.look()
        cores = set(self.server.cases()[case])
        # Whoever looks for a core sees where the one is that the register has in its place.
        while more := {tag for tag in self._in_the_way(cores, register) if not register[tag].disputed}:
            cores |= more
        given_way = self._in_the_way(cores, register)
        went = self.server.settle(case, {tag: self.book.spots[tag] for tag in sorted(cores)})
        self.referee.note_settled(cores | given_way if went else set())
        return went

    def _in_the_way(self, cores: set[str], register: dict[str, Row]) -> set[str]:
        """What the register has in the housings in which these cores really are."""
        wanted = {self.book.spots[tag] for tag in cores} & set(map(inside, self.estate.housings))
        return {tag for tag, row in register.items() if row.spot in wanted} - cores

    # The end

    def come_in(self, *, settled: bool) -> None:
        """The network heals, everybody signs in, every outbox empties: what differs then is disputed, and
        once it is settled nothing differs, whatever comes later."""
        for tablet in self.rng.sample(self.tablets, len(self.tablets)):
            tablet.person = tablet.person or tablet.holder
        for message in self.rng.sample(self.under_way, len(self.under_way)):
            self._deliver(message)
        for tablet in self.tablets:
            self._drain(tablet)
        if self.referee.withdrawn:
            self._empty_quarantine()
        self.referee.note_untold(self.set_aside)
        self.referee.compare()
        if settled:
            self._settle_all()
        for message in self.under_way[:1]:
            # Long after everything was settled an old batch comes once more.
            self._deliver(message)
        self._judge_the_end(settled)

    def _drain(self, tablet: Tablet) -> None:
        while tablet.outbox:
            envelope = tablet.envelope(self.now, 0, LAST_BATCH[self.estate.mood])
            waiting = len(tablet.outbox)
            tablet.take_answers(self._deliver(Message(tablet.person, envelope, tablet.device)) or [])
            assert len(tablet.outbox) < waiting, "an outbox does not empty"
            if self.estate.mood == "tangle" and self.rng.random() < 0.3:
                self._settle_all()

    def _empty_quarantine(self) -> None:
        """Somebody reads what a withdrawn tablet sent: takes in what is true, now and then not even that."""
        for name in self.server.quarantine():
            event = self.referee.written[name]
            if name in self.referee.made_up or self.rng.random() < 0.1:
                self.server.set_aside(name)
                self.set_aside.add(name)
            else:
                self.referee.count_effect(event, went=self.server.take_in(name))
        assert not self.server.quarantine(), "quarantine does not empty"

    def _settle_all(self) -> None:
        while cases := sorted(self.server.cases()):
            assert self._settle_one(cases[0]), "a case cannot be settled with the truth"

    def _judge_the_end(self, settled: bool) -> None:
        disputed = [tag for tag, row in self.referee.look().items() if row.disputed]
        assert not (settled and disputed), "settled, and still disputed"
        self.referee.compare()
        self.referee.audit(set().union(*(tablet.sent for tablet in self.tablets)))
        devices = self.estate.devices if self.estate.mood == "loss" else self.estate.devices[:1]
        self.referee.count_numbers(devices)
