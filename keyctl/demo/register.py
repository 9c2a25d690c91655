"""Two years at the key desks of the invented estate: acts, register lines and deposits, not stored yet."""

from collections import defaultdict
from datetime import datetime, timedelta
from random import Random
from uuid import UUID

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.keys.models import Custody, Deposit, DeskSettings, Handover, Holder, KeyCopy, PersonKind
from keyctl.lib.moments import end_of_day

LEFT_FOR_MASTER = 5000
DEPOSITS = 0.5
DUE = 0.3


class Register:
    def __init__(
        self,
        clerk: User,
        holders: dict[UUID, list[Holder]],
        settings: dict[UUID, DeskSettings],
        rng: Random,
    ) -> None:
        self.clerk, self.holders, self.settings, self.rng = clerk, holders, settings, rng
        self.acts: list[Handover] = []
        self.lines: list[Custody] = []
        self.deposits: list[Deposit] = []

    def keep(self, copy: KeyCopy) -> None:
        """The copy is out now: with a contractor since a few hours, with others for longer."""
        holder = self.rng.choice(self.holders[copy.site_id])
        by_the_hour = holder.kind == PersonKind.CONTRACTOR
        line = self.give(copy, holder, timezone.now() - timedelta(hours=12) if by_the_hour else None)
        copy.holder, copy.custody = holder, line
        if by_the_hour:
            line.due_at = line.out_at + timedelta(hours=10)
        elif self.rng.random() < DUE:
            line.due_at = end_of_day(timezone.localdate() + timedelta(days=self.rng.randrange(-20, 200)))
        if copy.symbol.is_master and self.rng.random() < DEPOSITS:
            currency = self.settings[copy.site_id].currency
            self.deposits.append(Deposit(handover=line.out_act, amount=LEFT_FOR_MASTER, currency=currency))

    def give(self, copy: KeyCopy, holder: Holder | None = None, start: datetime | None = None) -> Custody:
        holder = holder or self.rng.choice(self.holders[copy.site_id])
        end = timezone.now() if start else timezone.now() - timedelta(days=10)
        act = self._act(copy, Handover.Way.OUT, holder, self._between(start or copy.cut_at, end))
        act.terms, act.signed_as = self.settings[copy.site_id].terms, holder.name
        act.sign_way = Handover.SignWay.TYPED
        line = Custody(copy=copy, holder=holder, out_at=act.at, handed_out_by=self.clerk, out_act=act)
        self.lines.append(line)
        return line

    def take_back(self, line: Custody) -> None:
        at = self._between(line.out_at, timezone.now())
        line.back_act = self._act(line.copy, Handover.Way.BACK, line.holder, at)
        line.ended_at, line.ended_by, line.ending = at, self.clerk, Custody.Ending.RETURNED

    def lose(self, line: Custody) -> None:
        line.ended_at, line.ended_by = timezone.now() - timedelta(days=1), self.clerk
        line.ending = Custody.Ending.LOST

    def number(self) -> None:
        """Each site counts its own acts, in the order in which they were."""
        by_site: dict[UUID, list[Handover]] = defaultdict(list)
        for act in sorted(self.acts, key=lambda act: act.at):
            by_site[act.site_id].append(act)
            act.number = len(by_site[act.site_id])
        for site, acts in by_site.items():
            self.settings[site].last_number = len(acts)

    def _act(self, copy: KeyCopy, way: Handover.Way, holder: Holder, at: datetime) -> Handover:
        act = Handover(site=copy.site, way=way, holder=holder, by=self.clerk, at=at)
        self.acts.append(act)
        return act

    def _between(self, start: datetime, end: datetime) -> datetime:
        """A moment between the two, in the desk's hours unless the two lie too close."""
        moment = timezone.localtime(start + (end - start) * self.rng.random())
        in_hours = moment.replace(hour=self.rng.randrange(8, 17))
        return in_hours if start <= in_hours <= end else moment
