"""What the pages of a loss show. Nothing here opens the vault."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Value, When
from django.utils.translation import gettext, gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.jobs.models import Job
from keyctl.lib.stages import Stage, stages_at
from keyctl.losses.access import readable_sites, visible_cases
from keyctl.losses.figures import Figures
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import CaseDoor, CaseOrder, LossCase, LossProof, LossRule, LostCopy
from keyctl.losses.models.doors import CaseDoorQuerySet
from keyctl.losses.shares import Shares
from keyctl.losses.trying import Symbols, families_of
from keyctl.losses.wording import share_words
from keyctl.orders.models import OrderLine
from keyctl.places.models import Building, Door, Site
from keyctl.systems.models import KeySymbol

MOST_CHANGED = 1000


def cases_by_state(actor: User) -> QuerySet[LossCase]:
    """Unfinished cases first, then the newest."""
    return (
        visible_cases(actor)
        .annotate(
            turn=Case(
                When(state__in=LossCase.UNFINISHED, then=Value(0)),
                default=Value(1),
                output_field=IntegerField(),
            )
        )
        .order_by("turn", "-number")
    )


def lost_copies(case: LossCase) -> QuerySet[LostCopy]:
    return case.lost_copies.select_related("copy", "symbol__system", "holder")


def doors_of(case: LossCase) -> CaseDoorQuerySet:
    """The rows of the case's last look, in their order; of every site."""
    return CaseDoor.objects.of(case).order_by("ordinal")


def exposed_doors(case: LossCase) -> CaseDoorQuerySet:
    """What the lost keys still open, as the last look found it."""
    return doors_of(case).exposed()


def visible_doors(actor: User, case: LossCase) -> CaseDoorQuerySet:
    """Doors and cores of the sites whose losses one reads."""
    return doors_of(case).filter(site__in=readable_sites(actor)).with_places()


@dataclass(frozen=True)
class BuildingRow:
    """One building of a case: how many doors, by class, and how many of them are due."""

    building: Building
    doors: int
    critical: int
    restricted: int
    due: int
    cleared: int

    @property
    def ordinary(self) -> int:
        return self.doors - self.critical - self.restricted


def buildings_of(actor: User, case: LossCase) -> list[BuildingRow]:
    """From the counts kept with the case; buildings of the sites whose losses one reads."""
    figures = Figures.of(case)
    doors = figures.by("building", lambda cell: cell.in_door)
    by_class = {
        name: figures.by("building", lambda cell, name=name: cell.door_class == name)  # type: ignore[misc]
        for name in ("critical", "restricted")
    }
    due = figures.by("building", lambda cell: cell.is_exposed and cell.is_due)
    cleared = figures.by("building", lambda cell: cell.in_door and not cell.is_exposed)
    found = Building.objects.filter(pk__in=list(doors), site__in=readable_sites(actor)).select_related("site")
    rows = []
    for building in found:
        key = str(building.pk)
        rows.append(
            BuildingRow(
                building,
                doors=doors[key],
                critical=by_class["critical"][key],
                restricted=by_class["restricted"][key],
                due=due[key],
                cleared=cleared[key],
            )
        )
    return rows


def elsewhere(actor: User, case: LossCase) -> int:
    """Exposed cores at sites whose losses one does not read."""
    mine = {str(pk) for pk in readable_sites(actor).values_list("pk", flat=True)}
    return Figures.of(case).count(lambda cell: cell.is_exposed and cell.site not in mine)


def exposed_now(case: LossCase) -> int | None:
    """How many cores a lost key works at this moment; not told where there are too many to count at once."""
    keys = LostKeys.of(case).symbols
    turned = Turn.objects.filter(symbol__in=keys).exclude(core__place=Core.Place.GONE).order_by()
    found = set(turned.values_list("core", flat=True)[: MOST_CHANGED + 1])
    return len(found) if len(found) <= MOST_CHANGED else None


def last_proof(case: LossCase) -> LossProof | None:
    return case.proofs.filter(finished_at__isnull=False).order_by("-finished_at").first()


@dataclass(frozen=True)
class ProofState:
    """The last proof, and whether it still speaks of the pins as they are."""

    proof: LossProof
    # Cores that such a key enters and that were pinned since; counted up to a limit.
    changed: int
    # Cores that a lost key turns or takes out now, by the turns that every pinning renews.
    again: int
    is_of_all_keys: bool

    @property
    def is_stale(self) -> bool:
        return bool(self.changed or self.again or not self.is_of_all_keys)

    @property
    def holds(self) -> bool:
        return self.proof.is_clean and not self.is_stale

    @property
    def changed_words(self) -> str:
        if self.changed >= MOST_CHANGED:
            return gettext("{count} or more").format(count=MOST_CHANGED)
        return str(self.changed)


def proof_state(case: LossCase) -> ProofState | None:
    proof = last_proof(case)
    if proof is None:
        return None
    keys = LostKeys.of(case).symbols
    if not proof.is_clean:
        return ProofState(proof, changed_since(keys, proof), 0, proof.keys == len(keys))
    turned = Turn.objects.filter(symbol__in=keys).exclude(core__place=Core.Place.GONE)
    again = turned.values("core").distinct().count()
    return ProofState(proof, changed_since(keys, proof), again, proof.keys == len(keys))


def changed_since(keys: Symbols, proof: LossProof) -> int:
    changed = 0
    for family in families_of(keys):
        rows = family.pinned().filter(pinned_at__gt=proof.confirmed_at or proof.asked_at)
        changed += rows.values("pk")[: MOST_CHANGED - changed].count() if changed < MOST_CHANGED else 0
    return changed


@dataclass(frozen=True)
class WorkDone:
    """How far the orders of a case are."""

    orders: list[CaseOrder]
    lines: int
    done: int
    open: int


def work_of(case: LossCase) -> WorkDone:
    orders = list(case.case_orders.select_related("order"))
    lines = OrderLine.objects.filter(order__case_order__case=case)
    counts = lines.aggregate(
        lines=Count("pk", filter=~Q(state="cancelled")),
        done=Count("pk", filter=Q(state="done")),
        open=Count("pk", filter=Q(state="open")),
    )
    return WorkDone(orders, **counts)


STEPS = (
    gettext_lazy("Report"),
    gettext_lazy("Choose a plan"),
    gettext_lazy("Rekey"),
    gettext_lazy("Prove"),
    gettext_lazy("Close"),
)
REACHED = {
    LossCase.State.OPEN: 1,
    LossCase.State.PLANNED: 2,
    LossCase.State.WORKING: 2,
    LossCase.State.PROVEN: 4,
    LossCase.State.CLOSED: 5,
    LossCase.State.CANCELLED: 5,
}


def steps_of(case: LossCase) -> list[Stage]:
    return stages_at(STEPS, REACHED[LossCase.State(case.state)])


def running_proof(case: LossCase) -> Job | None:
    return Job.objects.unfinished().about(case).filter(kind="losses.prove").first()


@dataclass(frozen=True)
class CaseRow:
    """A case in the list."""

    case: LossCase
    keys: list[KeySymbol]
    copies: int
    figures: Figures
    lets_in_again: bool


def case_rows(cases: Iterable[LossCase]) -> list[CaseRow]:
    listed = list(cases)
    lost = LostCopy.objects.filter(case__in=listed).select_related("symbol__system")
    keys: dict[UUID, dict[UUID, KeySymbol]] = {case.pk: {} for case in listed}
    copies: Counter[UUID] = Counter()
    for row in lost:
        keys[row.case_id][row.symbol_id] = row.symbol
        copies[row.case_id] += 1
    last: dict[UUID, LossProof] = {}
    for proof in LossProof.objects.filter(case__in=listed, finished_at__isnull=False).order_by("finished_at"):
        last[proof.case_id] = proof
    return [
        CaseRow(
            case,
            list(keys[case.pk].values()),
            copies[case.pk],
            Figures.of(case),
            case.state == LossCase.State.CLOSED and case.pk in last and last[case.pk].asked_by_id is None,
        )
        for case in listed
    ]


@dataclass(frozen=True)
class RuleRow:
    door_class: Door.DoorClass
    share: int
    words: str
    rule: LossRule | None


def rules_of(site: Site) -> list[RuleRow]:
    """One row for each door class; a class without a rule of its own follows the starting set."""
    shares = Shares()
    kept = {rule.door_class: rule for rule in site.loss_rules.select_related("changed_by")}
    rows = []
    for door_class in Door.DoorClass:
        share = shares.due_at(site.pk, door_class)
        rows.append(RuleRow(door_class, share, share_words(share), kept.get(door_class)))
    return rows
