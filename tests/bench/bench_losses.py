"""The pages of a lost top master over 100,000 cores against those of a change key, through the test client.

The estate is invented and filled in bulk: its pins and cuts are blanks, for these pages open no vault; the
turns stand as a proof would store them: of each core its change key, the master above it and the top master.
"""

from collections.abc import Iterator
from typing import Any

from tests.bench.installed import install
from tests.bench.report import Report, best_of, sized

BUILDINGS, DOORS_EACH = sized(200, 10), 500
MASTERS = 250
CORES = BUILDINGS * DOORS_EACH
HOLDERS = sized(2000, 200)
BATCH = 5000
TIMES = 7
WANTED_MOST = 3.0
PAGES = ("doors", "detail", "holders")


def run(report: Report) -> None:
    install()
    from django.test import Client
    from django.urls import reverse

    # The pages are imported before the estate is filled, which takes a while.
    reverse("losses:list")
    client, built = Client(SERVER_NAME="127.0.0.1"), _Estate()
    client.force_login(built.cast.officer)
    seconds, _ = best_of(1, lambda: built.look("GGM"))
    report.note(f"{CORES:,} cores; looking what the top master opens took {seconds:.1f} s as a job")
    built.look("CHANGE-7")
    for name in PAGES:
        top, change = (_timed(client, built.address(name, key)) for key in ("GGM", "CHANGE-7"))
        # The ratio is what the change key's page costs of the top master's: a third is the least wanted.
        report.ratio(f"losses:{name}, top master : change key", top, change, 1 / WANTED_MOST)
        report.note(f"losses:{name}: the top master's page costs {top / change:.2f} of the change key's")
    last = f"{built.address('doors', 'GGM')}?page={CORES // 25}"
    report.note(f"the last of its pages of doors: {_timed(client, last) * 1e3:.0f} ms")


def _timed(client: Any, address: str) -> float:
    def ask() -> None:
        answer = client.get(address)
        if answer.status_code != 200:
            raise AssertionError(answer.status_code)

    ask()
    return best_of(TIMES, ask)[0]


class _Estate:
    """One site, one system of three levels, and a copy of every key."""

    def __init__(self) -> None:
        from tests.cast import gather

        self.cast = gather()
        self.symbols = self._symbols()
        self._cores()
        self._copies()

    def look(self, key: str) -> None:
        from keyctl.keys.models import KeyCopy
        from keyctl.keys.services import report_lost
        from keyctl.losses.models import LossCase
        from keyctl.losses.services import looking

        copy = KeyCopy.objects.get(symbol=self.symbols[key])
        looking.MOST_AT_ONCE = CORES * 4
        report_lost(actor=self.cast.desk, copy=copy, note="For the benchmark")
        case = LossCase.objects.get(lost_copies__copy=copy)
        found = case.figures["notes"].get("cores", 0)
        if found != (CORES if key == "GGM" else 1):
            raise AssertionError((key, found))

    def address(self, name: str, key: str) -> str:
        from django.urls import reverse

        from keyctl.losses.models import LossCase

        case = LossCase.objects.get(lost_copies__symbol=self.symbols[key])
        return reverse(f"losses:{name}", args=[case.pk])

    def _symbols(self) -> dict[str, Any]:
        from keyctl.systems.models import KeySymbol, KeySystem

        facts = {"format_id": "small-a2-7", "keyway": "W", "levels": 3, "created_by": self.cast.administrator}
        self.system = KeySystem.objects.create(code="BENCH", name="Bench", **facts)
        self.system.sites.add(self.cast.north)
        row = {"system": self.system, "bitting": b"sealed"}
        top = KeySymbol(symbol="GGM", kind="master", level=0, fingerprint="top", **row)
        masters = [
            KeySymbol(
                symbol=f"M-{nth}",
                kind="master",
                level=1,
                parent=top,
                ordinal=nth,
                fingerprint=f"m{nth}",
                **row,
            )
            for nth in range(MASTERS)
        ]
        changes = [
            KeySymbol(
                symbol=f"CHANGE-{nth}",
                kind="change",
                level=2,
                parent=masters[nth % MASTERS],
                ordinal=nth,
                fingerprint=f"c{nth}",
                **row,
            )
            for nth in range(CORES)
        ]
        KeySymbol.objects.bulk_create([top, *masters, *changes], batch_size=BATCH)
        return {symbol.symbol: symbol for symbol in [top, *masters, *changes]}

    def _cores(self) -> None:
        from django.utils import timezone

        from keyctl.cores.models import Core, Keying, Turn
        from keyctl.places.models import Building, Door, Floor, Housing

        now, north = timezone.now(), self.cast.north
        doors, housings, cores, keyings, turns = [], [], [], [], []
        for nth in range(BUILDINGS):
            building = Building.objects.create(site=north, code=f"B{nth:03}", name=f"House {nth}")
            floor = Floor.objects.create(building=building, label="0", level=0)
            doors += [Door(floor=floor, number=f"{place:04}") for place in range(DOORS_EACH)]
        for nth, door in enumerate(doors):
            housings.append(Housing(door=door, kind="mortise", construction="small-format"))
            cores.append(
                Core(
                    site=north,
                    system=self.system,
                    format_id="small-a2-7",
                    construction="small-format",
                    place="housing",
                    housing=housings[-1],
                    pinning=b"sealed" * 50,
                    pinned_at=now,
                    pinned_by=self.cast.locksmith,
                )
            )
            change = self.symbols[f"CHANGE-{nth}"]
            keyings.append(Keying(core=cores[-1], symbol=change))
            turns += [
                Turn(core=cores[-1], symbol=key, operates=True, withdraws=False) for key in self._line(change)
            ]
        Door.objects.bulk_create(doors, batch_size=BATCH)
        Housing.objects.bulk_create(housings, batch_size=BATCH)
        Core.objects.bulk_create(cores, batch_size=BATCH)
        Keying.objects.bulk_create(keyings, batch_size=BATCH)
        Turn.objects.bulk_create(turns, batch_size=BATCH)

    def _line(self, change: Any) -> Iterator[Any]:
        yield change
        yield change.parent
        yield self.symbols["GGM"]

    def _copies(self) -> None:
        """A copy of every key in one cabinet, and some with holders, each by a line of the register."""
        from keyctl.keys.models import Custody, Holder, KeyCopy
        from tests import factories

        cabinet, desk = factories.make_cabinet(self.cast.north), self.cast.desk
        holders = Holder.objects.bulk_create(
            [Holder(site=self.cast.north, name=f"Holder {nth:05}") for nth in range(HOLDERS)]
        )
        act = factories.make_handover(self.cast.north, by=desk, holder=holders[0])
        rows = [
            KeyCopy(symbol=symbol, state=KeyCopy.State.IN_CABINET, cabinet=cabinet, site=self.cast.north)
            for symbol in self.symbols.values()
        ]
        KeyCopy.objects.bulk_create(rows, batch_size=BATCH)
        given = list(zip(rows[-HOLDERS:], holders, strict=True))
        lines = [Custody(copy=row, holder=holder, handed_out_by=desk, out_act=act) for row, holder in given]
        Custody.objects.bulk_create(lines, batch_size=BATCH)
        for line in lines:
            line.copy.state, line.copy.cabinet = KeyCopy.State.HELD, None
            line.copy.holder, line.copy.custody = line.holder, line
        changed = [line.copy for line in lines]
        KeyCopy.objects.bulk_update(changed, ["state", "cabinet", "holder", "custody"], batch_size=500)
