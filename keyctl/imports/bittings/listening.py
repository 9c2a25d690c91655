"""Keeps account of what a bitting list wrote, in the transaction that wrote it."""

from collections.abc import Sequence

from django.db.models import F, Model
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.imports.bittings.kind import BITTINGS, SYMBOLS, SYSTEMS
from keyctl.imports.models import Change, Import
from keyctl.imports.records import Records, digest_of
from keyctl.imports.services.writing import WRITTEN
from keyctl.imports.tables.corewriting import CORES
from keyctl.inherited.models import BittingList
from keyctl.systems.models import KeySymbol, KeySystem

THINGS: dict[type[Model], Records] = {KeySystem: SYSTEMS, KeySymbol: SYMBOLS, Core: CORES}


def hear_of_list(listed: BittingList, actor: User, made: Sequence[Model]) -> None:
    """Called with each part of the list as it is written, and once more at its end with nothing."""
    imported = _import_of(listed, actor)
    _keep(imported, made)
    event = record(
        actor=actor,
        verb=WRITTEN,
        sentence=f"wrote {len(made)} keys and cores of a bitting list into {listed.target}",
        site_id=imported.site_id,
        # Not the system: the last act on it is the one that added keys.
        subjects=[imported, *(thing for thing in made if not isinstance(thing, KeySystem))],
        detail={"rows": len(made), "kind": BITTINGS},
    )
    # What the list wrote later names what it wrote before: none of that is somebody's work on it.
    rows = Change.objects.filter(imported=imported)
    rows.update(event=event.pk)
    imported.counts |= {"things": _counted(imported), "taken": _counted(imported)}
    imported.save(update_fields=["counts"])
    Import.objects.filter(pk=imported.pk).update(version=F("version") + 1)


def _import_of(listed: BittingList, actor: User) -> Import:
    found = Import.objects.filter(kind=BITTINGS, site=listed.site_id, counts__list=str(listed.pk)).first()
    return found or Import.objects.create(
        site=listed.site,
        kind=BITTINGS,
        name=listed.name,
        digest=listed.digest,
        state=Import.State.TAKEN,
        counts={"list": str(listed.pk), "errors": 0, "warnings": listed.warnings},
        uploaded_at=listed.uploaded_at,
        uploaded_by=actor,
        checked_at=listed.checked_at,
        taken_at=timezone.now(),
    )


def _keep(imported: Import, made: Sequence[Model]) -> None:
    position = Change.objects.filter(imported=imported).count()
    states = {
        thing.name: thing.states(row.pk for row in made if type(row) is model)
        for model, thing in THINGS.items()
    }
    Change.objects.bulk_create(
        Change(
            imported=imported,
            position=place,
            thing=THINGS[type(row)].name,
            thing_id=row.pk,
            act=Change.Act.CREATE,
            state=Change.State.TAKEN,
            label=str(row),
            left=digest_of(states[THINGS[type(row)].name][row.pk]),
        )
        for place, row in enumerate(made, position)
    )


def _counted(imported: Import) -> dict[str, dict[str, int]]:
    found = {}
    for thing in THINGS.values():
        count = Change.objects.filter(imported=imported, thing=thing.name).count()
        found[thing.name] = {"read": count, "created": count, "updated": 0, "unchanged": 0}
    return found
