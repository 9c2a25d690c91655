"""Two years at a key desk of the invented estate: acts, register lines and deposits, not stored yet."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from random import Random

from keyctl.accounts.models import User
from keyctl.demo.plan import Build
from keyctl.keys.models import Custody, Deposit, DeskSettings, Handover, Holder, KeyCopy, PersonKind
from keyctl.lib.moments import end_of_day

LEFT_FOR_MASTER = 5000
DEPOSITS = 0.5
DUE = 0.3
# How often a copy was out and came back, with the share of each; some are out on top of that.
LOANS = {0: 12, 1: 20, 2: 26, 3: 22, 4: 13, 5: 7}
# Nobody takes a key in the last days, so that what came back has its time.
QUIET_DAYS = 10


class Register:
    def __init__(
        self, clerk: User, holders: Sequence[Holder], settings: DeskSettings, build: Build, rng: Random
    ) -> None:
        self.clerk, self.holders, self.settings, self.rng = clerk, holders, settings, rng
        self.today, self.now = build.today, build.begun_at
        self.acts: list[Handover] = []
        self.lines: list[Custody] = []
        self.deposits: list[Deposit] = []

    def lend(self, copy: KeyCopy, *, is_out: bool) -> Custody | None:
        """Out and back as it happens, and out once more; returns that last line."""
        times = self.rng.choices(list(LOANS), weights=list(LOANS.values()))[0]
        moments = self._moments(copy, 2 * times + is_out)
        for out_at, back_at in zip(moments[: 2 * times : 2], moments[1 : 2 * times : 2], strict=True):
            self._take_back(self._give(copy, self.rng.choice(self.holders), out_at), back_at)
        return self._give(copy, self.rng.choice(self.holders), moments[-1]) if is_out else None

    def keep(self, copy: KeyCopy) -> None:
        """The copy is out now: with a contractor since a few hours, with others for longer."""
        line = self.lend(copy, is_out=True)
        if line is None:
            raise AssertionError("it is out")
        copy.holder, copy.custody = line.holder, line
        if line.holder.kind == PersonKind.CONTRACTOR:
            hours = timedelta(hours=12 * self.rng.random())
            line.out_at = line.out_act.at = self.now - hours
            line.due_at = line.out_at + timedelta(hours=10)
        elif self.rng.random() < DUE:
            line.due_at = end_of_day(self.today.date() + timedelta(days=self.rng.randrange(-20, 200)))
        if copy.symbol.is_master and self.rng.random() < DEPOSITS:
            currency = self.settings.currency
            self.deposits.append(Deposit(handover=line.out_act, amount=LEFT_FOR_MASTER, currency=currency))

    def lose(self, line: Custody) -> None:
        line.ended_at, line.ended_by = self.today - timedelta(days=1), self.clerk
        line.ending = Custody.Ending.LOST

    def number(self) -> None:
        """The site counts its acts in the order in which they were."""
        self.acts.sort(key=lambda act: act.at)
        for number, act in enumerate(self.acts, 1):
            act.number = number
        self.settings.last_number = len(self.acts)

    def _give(self, copy: KeyCopy, holder: Holder, at: datetime) -> Custody:
        act = self._act(copy, Handover.Way.OUT, holder, at)
        act.terms, act.signed_as = self.settings.terms, holder.name
        act.sign_way = Handover.SignWay.TYPED
        line = Custody(copy=copy, holder=holder, out_at=at, handed_out_by=self.clerk, out_act=act)
        self.lines.append(line)
        return line

    def _take_back(self, line: Custody, at: datetime) -> None:
        line.back_act = self._act(line.copy, Handover.Way.BACK, line.holder, at)
        line.ended_at, line.ended_by, line.ending = at, self.clerk, Custody.Ending.RETURNED

    def _act(self, copy: KeyCopy, way: Handover.Way, holder: Holder, at: datetime) -> Handover:
        act = Handover(site=copy.site, way=way, holder=holder, by=self.clerk, at=at)
        self.acts.append(act)
        return act

    def _moments(self, copy: KeyCopy, count: int) -> list[datetime]:
        """In the desk's hours of as many days since the copy was cut, in their order."""
        days = (self.today - copy.cut_at).days
        chosen = sorted(self.rng.sample(range(QUIET_DAYS, days), count), reverse=True)
        return [
            (self.today - timedelta(days=day)).replace(
                hour=self.rng.randrange(8, 17), minute=self.rng.randrange(60)
            )
            for day in chosen
        ]
