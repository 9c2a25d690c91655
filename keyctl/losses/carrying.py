"""From a chosen plan to keys, cores and orders, in steps, so that a job can stop and go on between them."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.jobs.running import Running
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.losses.models import CaseOrder, LossCase, RekeyPlan
from keyctl.losses.planning.plans import secret_of
from keyctl.orders.models import MOST_COPIES, WorkOrder
from keyctl.orders.services import writing as orders
from keyctl.places.models import Building, Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services.adding import save_system
from keyctl.systems.services.storing import NewKey, store_keys

DOING = gettext_lazy("Writing keys, cores and orders")
CORES_IN_AN_ORDER = 100
KEYS_IN_AN_ORDER = 100
ASKED_AT_ONCE = 500

Step = Callable[[], None]


@dataclass(frozen=True)
class Batch:
    """Cores of one building, or in no door of one site, that go into one order."""

    site: UUID
    place: str
    cores: tuple[UUID, ...]


class Carrying:
    """The steps are the same each time they are listed: a job counts those that are done."""

    def __init__(self, actor: User, plan: RekeyPlan) -> None:
        self.actor, self.plan, self.case = actor, plan, plan.case
        self.secret = secret_of(plan)
        self.coming = {key["ref"]: key for key in self.secret["coming"]}

    def run(self) -> None:
        """All of it, in the caller's transaction."""
        for step in self.steps():
            step()

    def steps(self) -> list[Step]:
        batches: list[Step] = [_bound(self._write_batch, batch) for batch in self._batches()]
        return [self._write_keys, *batches, self._write_cuts, self._finish]

    def _write_keys(self) -> None:
        """New keys, who stands under them, and what is retired; all or nothing."""
        if self.secret["new_system"]:
            self._open_system()
        by_system: dict[UUID, list[dict[str, Any]]] = {}
        for key in self.coming.values():
            by_system.setdefault(self._system_of(key), []).append(key)
        for pk, keys in by_system.items():
            system = KeySystem.objects.select_for_update().get(pk=pk)
            store_keys(system, [self._entry(key) for key in keys], KeySymbol.Origin.REPLACED)
            self._tell_made(system, keys)
        for ref, moved in self._moved().items():
            below = KeySymbol.objects.filter(pk__in=moved)
            below.update(parent=self.symbols([ref])[ref])
        for part in _parts(self.secret["retired"]):
            KeySymbol.objects.filter(pk__in=part).update(retired_at=timezone.now())

    def _open_system(self) -> None:
        """In the keyway of the old one and at its sites, with a control key of its own."""
        told = self.secret["new_system"]
        old = KeySystem.objects.get(pk=told["instead_of"])
        system = KeySystem(
            code=_free_code(old.code),
            name=f"{old.name}, after {self.case}"[:120],
            format_id=old.format_id,
            keyway=old.keyway,
            levels=told["levels"],
            created_by=self.actor,
        )
        design = engine.Design.of(old.format_id, told["design"])
        save_system(system, list(old.sites.all()), design)
        if told["control"] is not None:
            entry = NewKey(engine.CONTROL, KeySymbol.Kind.CONTROL, told["control"])
            store_keys(system, [entry], KeySymbol.Origin.REPLACED)
        self.plan.figures["made_system"] = str(system.pk)
        self.plan.save(update_fields=["figures"])

    def _entry(self, key: dict[str, Any]) -> NewKey:
        parent: KeySymbol | str | None = None
        if key["parent"] in self.coming:
            parent = self.coming[key["parent"]]["symbol"]
        elif key["parent"]:
            parent = KeySymbol.objects.get(pk=key["parent"])
        return NewKey(
            key["symbol"],
            KeySymbol.Kind(key["kind"]),
            key["bitting"],
            parent,
            key["level"],
            key["ordinal"],
            key["room"],
        )

    def _moved(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for key, ref in self.secret["moved"].items():
            found.setdefault(ref, []).append(key)
        return found

    def _batches(self) -> Iterator[Batch]:
        """By site and building, in the order of the doors."""
        rows = self.secret["rows"]
        buildings = Building.objects.in_bulk({building for _, _, building in rows if building})
        codes = {str(pk): building.code for pk, building in buildings.items()}
        groups: dict[tuple[UUID, str], list[UUID]] = {}
        for core, site, building in rows:
            groups.setdefault((UUID(site), codes.get(building, "")), []).append(UUID(core))
        for (site, place), listed in groups.items():
            for start in range(0, len(listed), CORES_IN_AN_ORDER):
                yield Batch(site, place, tuple(listed[start : start + CORES_IN_AN_ORDER]))

    def _write_batch(self, batch: Batch) -> None:
        """Cores in doors get a double, made for their keys; cores in hand are keyed anew themselves."""
        site = Site.objects.get(pk=batch.site)
        found = Core.objects.with_places().in_bulk(batch.cores)
        now = [found[pk] for pk in batch.cores if found[pk].place != Core.Place.GONE]
        keyings = self._keyings(now)
        in_doors = [core for core in now if core.housing]
        made: dict[UUID, Core] = {}
        for system, group in self._by_system(in_doors, keyings):
            doubles = cores.write_cores(
                actor=self.actor, site=site, system=system, keyings=[keyings[core.pk] for core in group]
            )
            made |= {core.pk: double for core, double in zip(group, doubles, strict=True)}
        loose = [core for core in now if not core.housing]
        for system, group in self._by_system(loose, keyings):
            cores.rekey_cores(
                actor=self.actor,
                site=site,
                system=system,
                keyings={core.pk: keyings[core.pk] for core in group},
            )
        self._order_cores(site, batch.place, [*(made[core.pk] for core in in_doors), *loose])
        meant = {core.housing: made[core.pk] for core in in_doors if core.housing}
        if meant:
            title = self._title(f"Rekey {batch.place}")
            self._keep(orders.write_swap_order(actor=self.actor, site=site, title=title, meant=meant))

    def _order_cores(self, site: Site, place: str, listed: Sequence[Core]) -> None:
        if listed:
            title = self._title(f"Cores for {place}" if place else "Cores in no door")
            self._keep(orders.write_pin_order(actor=self.actor, site=site, title=title, cores=listed))

    def _by_system(
        self, listed: Sequence[Core], keyings: dict[UUID, list[KeySymbol]]
    ) -> Iterator[tuple[KeySystem, list[Core]]]:
        groups: dict[KeySystem, list[Core]] = {}
        for core in listed:
            groups.setdefault(keyings[core.pk][0].system, []).append(core)
        yield from groups.items()

    def _keyings(self, listed: Sequence[Core]) -> dict[UUID, list[KeySymbol]]:
        refs = {core.pk: self.secret["keyed"][str(core.pk)] for core in listed}
        found = self.symbols([ref for each in refs.values() for ref in each])
        return {core: [found[ref] for ref in each] for core, each in refs.items()}

    def _write_cuts(self) -> None:
        """Copies for every key to come, into the cabinet of each site that holds most of the old ones."""
        named = {site for key in self.coming.values() for site in key["copies"]}
        for site in Site.objects.filter(pk__in=named).order_by("code"):
            wanted = [
                (ref, key["copies"][str(site.pk)])
                for ref, key in self.coming.items()
                if str(site.pk) in key["copies"]
            ]
            if not wanted:
                continue
            cabinet, known = self._cabinet(site), self.symbols([ref for ref, _ in wanted])
            lines = [(known[ref], count) for ref, total in wanted for count in _split(total)]
            for part in _orders_of(lines):
                title = self._title("Keys in the place of lost ones")
                self._keep(
                    orders.write_cut_order(
                        actor=self.actor, site=site, title=title, counts=part, cabinet=cabinet
                    )
                )

    def _cabinet(self, site: Site) -> Cabinet:
        replaced = [key["replaces"] for key in self.coming.values()][:ASKED_AT_ONCE]
        held = KeyCopy.objects.filter(symbol__in=replaced, cabinet__site=site).values_list(
            "cabinet", flat=True
        )
        most = Counter(held).most_common(1)
        cabinets = Cabinet.objects.filter(site=site)
        found = cabinets.filter(pk=most[0][0]).first() if most else cabinets.first()
        if found is None:
            raise Refused(
                gettext(
                    "{site} has no key cabinet for the copies to cut. Set one up, then choose the plan."
                ).format(site=site)
            )
        return found

    def _finish(self) -> None:
        """The work begins; a plan that changes nothing in the doors is no plan."""
        case = LossCase.objects.select_for_update().get(pk=self.case.pk)
        case.state, case.version = LossCase.State.WORKING, case.version + 1
        case.save(update_fields=["state", "version"])
        opened = self.plan.case_orders.count()
        record(
            actor=self.actor,
            verb="loss.work_opened",
            sentence=f"opened {opened} {'order' if opened == 1 else 'orders'} for {in_english(self.case)}",
            site_id=self.case.site_id,
            subjects=[self.case, self.plan],
            detail={"orders": opened},
        )

    def symbols(self, refs: Sequence[str]) -> dict[str, KeySymbol]:
        """Keys by how the plan names them: those made by it by their symbols."""
        found: dict[str, KeySymbol] = {}
        for part in _parts(sorted(set(refs))):
            found |= self._known([ref for ref in part if ref not in self.coming])
            found |= self._made([ref for ref in part if ref in self.coming])
        return found

    def _known(self, refs: Sequence[str]) -> dict[str, KeySymbol]:
        rows = KeySymbol.objects.filter(pk__in=refs).select_related("system")
        return {str(row.pk): row for row in rows}

    def _made(self, refs: Sequence[str]) -> dict[str, KeySymbol]:
        names = {(self._system_of(self.coming[ref]), self.coming[ref]["symbol"]): ref for ref in refs}
        rows = KeySymbol.objects.filter(
            system__in={system for system, _ in names}, symbol__in=[symbol for _, symbol in names]
        ).select_related("system")
        return {names[pair]: row for row in rows if (pair := (row.system_id, row.symbol)) in names}

    def _system_of(self, key: dict[str, Any]) -> UUID:
        return UUID(key["system"] or self.plan.figures["made_system"])

    def _keep(self, order: WorkOrder) -> None:
        CaseOrder.objects.create(case=self.case, order=order, plan=self.plan)

    def _title(self, words: str) -> str:
        return f"{words} ({self.case})"[:160]

    def _tell_made(self, system: KeySystem, keys: Sequence[dict[str, Any]]) -> None:
        record(
            actor=self.actor,
            verb="system.extended",
            sentence=f"added {len(keys)} keys to the key system {system.code} for {in_english(self.case)}",
            site_id=self.case.site_id,
            subjects=[system, self.case],
            detail={"keys": len(keys), "retired": len(self.secret["retired"])},
        )


def carry_out(running: Running) -> dict[str, Any]:
    """The job: a transaction for each step."""
    plan = RekeyPlan.objects.select_related("case__site").get(pk=running.parameters["plan"])
    work = Carrying(running.actor, plan)
    steps, done = work.steps(), running.checkpoint.get("done", 0)
    while done < len(steps):
        running.step(done, len(steps), DOING)
        with transaction.atomic():
            steps[done]()
            done += 1
            running.save({"done": done})
    running.step(done, len(steps), DOING)
    opened = plan.case_orders.count()
    return {
        "sentence": gettext("Opened {opened} orders for {case}.").format(opened=opened, case=plan.case),
        "url": reverse("losses:plans", args=[plan.case_id]),
        "facts": {gettext("Orders"): opened, gettext("Cores"): plan.figures["cores"]},
    }


def _bound(work: Callable[[Batch], None], batch: Batch) -> Step:
    return lambda: work(batch)


def _free_code(code: str) -> str:
    stem = code[:17]
    for number in range(2, 100):
        if not KeySystem.objects.filter(code=f"{stem}-{number}").exists():
            return f"{stem}-{number}"
    raise Refused(
        gettext("{code} was replaced so often that no code is left; choose another plan.").format(code=code)
    )


def _split(total: int) -> Iterator[int]:
    """As many lines as one line may cut copies."""
    while total > 0:
        yield min(total, MOST_COPIES)
        total -= MOST_COPIES


def _orders_of(lines: Sequence[tuple[KeySymbol, int]]) -> Iterator[list[tuple[KeySymbol, int]]]:
    """A key stands in an order once."""
    part: list[tuple[KeySymbol, int]] = []
    for symbol, count in lines:
        if len(part) >= KEYS_IN_AN_ORDER or any(symbol == other for other, _ in part):
            yield part
            part = []
        part.append((symbol, count))
    if part:
        yield part


def _parts(listed: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(listed), ASKED_AT_ONCE):
        yield listed[start : start + ASKED_AT_ONCE]
