"""The dry run as a job: the plan of a file is written down row by row, and nothing else."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.imports.access import require_taker
from keyctl.imports.kinds import Act, Fault, Given, Kind, Planned, kind_of
from keyctl.imports.models import Change, Import, ImportFault
from keyctl.imports.records import digest_of
from keyctl.imports.services.bringing import save
from keyctl.jobs.running import Running
from keyctl.lib.errors import Conflict

AT_ONCE = 1000
# Of each kind of finding; all are counted.
MOST_FAULTS = 20_000
LONGEST = {"label": 200, "sheet": 60, "column": 60, "message": 400}
CHANGED_BETWEEN = "changed while it was looked at"
WORDS = {Act.CREATE: "created", Act.CHANGE: "updated", Act.SAME: "unchanged"}


def try_file(running: Running) -> dict[str, Any]:
    imported = Import.objects.select_related("site").get(pk=running.parameters["import"])
    require_taker(running.actor, imported)
    if imported.version != running.parameters["version"]:
        raise Conflict(_("The import was changed after its dry run was asked for. Try it again."))
    kind = kind_of(imported)
    Change.objects.filter(imported=imported).delete()
    imported.faults.all().delete()
    keeper = Keeper(imported, kind)
    for entry in kind.plan(Given(imported, running.actor, running.step)):
        keeper.keep(entry)
    keeper.flush()
    _finish(running, imported, keeper)
    return outcome_of(imported, keeper.counts)


@transaction.atomic
def _finish(running: Running, imported: Import, keeper: "Keeper") -> None:
    found = Import.objects.select_for_update().defer("content").get(pk=imported.pk)
    if found.version != running.parameters["version"]:
        raise Conflict(_("The import was changed while it was tried. Try it again."))
    found.state, found.counts, found.checked_at = Import.State.CHECKED, keeper.counts, timezone.now()
    save(found, "counts", "checked_at")


def outcome_of(imported: Import, counts: dict[str, Any]) -> dict[str, Any]:
    things = counts["things"].values()
    new, changed = (sum(thing[name] for thing in things) for name in ("created", "updated"))
    return {
        "sentence": _("{new} new, {changed} changed, {errors} errors. Nothing is written yet.").format(
            new=new, changed=changed, errors=counts["errors"]
        ),
        "url": reverse("imports:detail", args=[imported.pk]),
        "facts": {_("New"): new, _("Changed"): changed, _("Errors"): counts["errors"]},
    }


class Keeper:
    """Writes a plan down in batches, so that no more than one of them is in memory."""

    def __init__(self, imported: Import, kind: Kind) -> None:
        self.imported, self.kind = imported, kind
        self.figures: dict[str, Counter[str]] = {thing.name: Counter() for thing in kind.things}
        self.weights: Counter[bool] = Counter()
        self._changes: list[Planned] = []
        self._faults: list[Fault] = []
        self._position = 0
        # Which row named a thing first: no row is about what another one is about.
        self._rows: dict[UUID, int] = {}
        self._faulty: set[tuple[str, str, int]] = set()

    def keep(self, entry: Planned | Fault) -> None:
        if isinstance(entry, Planned):
            entry = self._alone(entry)
        if isinstance(entry, Fault):
            self._keep_fault(entry)
        else:
            self._keep_planned(entry)
        if len(self._changes) + len(self._faults) >= AT_ONCE:
            self.flush()

    @property
    def counts(self) -> dict[str, Any]:
        names = ("read", *WORDS.values())
        return {
            "things": {
                thing: {name: figures[name] for name in names} for thing, figures in self.figures.items()
            },
            "errors": self.weights[True],
            "warnings": self.weights[False],
        }

    @transaction.atomic
    def flush(self) -> None:
        Change.objects.bulk_create(self._rows_of(self._changes))
        ImportFault.objects.bulk_create(
            ImportFault(
                imported=self.imported,
                position=position,
                sheet=fault.sheet[: LONGEST["sheet"]],
                row=fault.row,
                column=fault.column[: LONGEST["column"]],
                message=str(fault.message)[: LONGEST["message"]],
                is_error=fault.is_error,
            )
            for position, fault in enumerate(self._faults, self.weights.total() - len(self._faults))
        )
        self._position += len(self._changes)
        self._changes, self._faults = [], []

    def _alone(self, entry: Planned) -> Planned | Fault:
        first = self._rows.setdefault(entry.pk, entry.row)
        if first == entry.row:
            return entry
        return Fault(
            _("Row {row} is about the same: {label}. Only that row counts; leave one of them out.").format(
                row=first, label=entry.label
            ),
            entry.sheet,
            entry.row,
            thing=entry.thing,
        )

    def _keep_planned(self, entry: Planned) -> None:
        self.figures[entry.thing].update(("read", WORDS[entry.act]))
        if entry.act != Act.SAME:
            self._changes.append(entry)

    def _keep_fault(self, fault: Fault) -> None:
        place = (fault.thing, fault.sheet, fault.row)
        if fault.thing and fault.is_error and place not in self._faulty:
            self._faulty.add(place)
            self.figures[fault.thing]["read"] += 1
        self.weights[fault.is_error] += 1
        if self.weights[fault.is_error] <= MOST_FAULTS:
            self._faults.append(fault)

    def _rows_of(self, entries: Sequence[Planned]) -> list[Change]:
        seen = self._seen(entries)
        return [
            Change(
                imported=self.imported,
                position=position,
                thing=entry.thing,
                thing_id=entry.pk,
                act=entry.act,
                label=entry.label[: LONGEST["label"]],
                sheet=entry.sheet[: LONGEST["sheet"]],
                row=entry.row,
                values=entry.values,
                before=entry.before,
                words=list(entry.words),
                seen=seen.get(entry.pk, ""),
            )
            for position, entry in enumerate(entries, self._position)
        ]

    def _seen(self, entries: Sequence[Planned]) -> dict[UUID, str]:
        """How the rows that will change stand there now; one that is another already matches no more."""
        before: dict[str, dict[UUID, dict[str, Any]]] = defaultdict(dict)
        for entry in entries:
            if entry.act == Act.CHANGE:
                before[entry.thing][entry.pk] = entry.before
        found = {}
        for name, rows in before.items():
            for pk, state in self.kind.thing(name).states(rows).items():
                is_same = all(state[column] == value for column, value in rows[pk].items())
                found[pk] = digest_of(state) if is_same else CHANGED_BETWEEN
        return found
