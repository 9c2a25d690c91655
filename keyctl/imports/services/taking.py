"""Taking an import, and undoing it: jobs that write batch by batch and can be stopped between any two.

A row says itself whether it is written, and says so in the transaction that writes it. So a job that was
killed goes on with the rows that do not, and none is written twice.
"""

from collections.abc import Callable, Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Count, QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.imports.access import require_taker
from keyctl.imports.kinds import Kind, kind_of
from keyctl.imports.models import Change, Import
from keyctl.imports.records import Deed
from keyctl.imports.services.bringing import save, tell
from keyctl.imports.services.writing import undo_batch, write_batch
from keyctl.jobs.running import Running
from keyctl.lib.errors import Conflict
from keyctl.lib.planner import MANY, look_anew

# While a batch is written, others wait on SQLite: a tenth of a second.
BATCH = 250
State = Import.State
Batch = Callable[[Deed, Kind, Sequence[Change]], int]


def take_import(running: Running) -> dict[str, Any]:
    imported = _import_of(running, State.TAKING)
    rows = Change.objects.filter(imported=imported)
    waiting = rows.filter(state=Change.State.PLANNED).order_by("position")
    _in_batches(running, imported, waiting, write_batch, _("Writing"))
    counts = figures_of(imported)
    kept = imported.counts | {"taken": counts, "conflicts": rows.filter(state=Change.State.CONFLICT).count()}
    with transaction.atomic():
        found = _still(running, imported, State.TAKING)
        found.state, found.content, found.counts, found.taken_at = State.TAKEN, None, kept, timezone.now()
        save(found, "content", "counts", "taken_at")
        sentence = f"took the import {found}: {_told(counts)}"
        tell(running.actor, found, "taken", sentence, {"things": counts, "conflicts": kept["conflicts"]})
    if rows.count() > MANY:
        look_anew()
    return _outcome(imported, _("The import is taken; its file is deleted."), counts, kept["conflicts"])


def undo_import(running: Running) -> dict[str, Any]:
    imported = _import_of(running, State.UNDOING)
    rows = Change.objects.filter(imported=imported)
    waiting = rows.filter(state=Change.State.TAKEN).order_by("-position")
    _in_batches(running, imported, waiting, undo_batch, _("Taking back"))
    kept = rows.filter(state=Change.State.KEPT).count()
    undone = rows.filter(state=Change.State.UNDONE).count()
    with transaction.atomic():
        found = _still(running, imported, State.UNDOING)
        found.state, found.undone_at = State.UNDONE, timezone.now()
        found.counts = found.counts | {"undone": undone, "kept": kept}
        save(found, "counts", "undone_at")
        sentence = f"undid the import {found}: {undone} rows taken back, {kept} kept"
        tell(running.actor, found, "undone", sentence, {"undone": undone, "kept": kept})
    facts = {_("Taken back"): undone, _("Kept"): kept}
    return {
        "sentence": _("The import is undone."),
        "url": reverse("imports:detail", args=[imported.pk]),
        "facts": facts,
    }


def figures_of(imported: Import) -> dict[str, dict[str, int]]:
    """By thing, how many rows were made and changed."""
    taken = Change.objects.filter(imported=imported, state=Change.State.TAKEN).order_by()
    found = {thing.name: {"created": 0, "updated": 0} for thing in kind_of(imported).things}
    for thing, act, count in taken.values_list("thing", "act").annotate(count=Count("pk")):
        found[thing]["created" if act == Change.Act.CREATE else "updated"] = count
    return found


def _in_batches(
    running: Running, imported: Import, waiting: QuerySet[Change], write: Batch, words: str
) -> None:
    kind, total = kind_of(imported), Change.objects.filter(imported=imported).count()
    done = total - waiting.count()
    while True:
        running.step(done, total, words)
        try:
            through = _batch(running, imported, kind, waiting, write)
        except IntegrityError:
            # Somebody wrote the same a moment ago: by now it is there to be seen.
            through = _batch(running, imported, kind, waiting, write)
        if not through:
            return
        done += through


@transaction.atomic
def _batch(running: Running, imported: Import, kind: Kind, waiting: QuerySet[Change], write: Batch) -> int:
    batch = list(waiting[:BATCH])
    if batch:
        _still(running, imported, State(imported.state))
        write(Deed(running.actor, imported), kind, batch)
        running.save({"rows": running.checkpoint.get("rows", 0) + len(batch)})
    return len(batch)


def _import_of(running: Running, state: State) -> Import:
    found = Import.objects.defer("content").select_related("site").get(pk=running.parameters["import"])
    require_taker(running.actor, found)
    _refuse_other(running, found, state)
    return found


def _still(running: Running, imported: Import, state: State) -> Import:
    """Held: a job that stopped and goes on later writes nothing once its import was turned back."""
    rows = Import.objects.select_for_update(of=("self",)).defer("content").select_related("site")
    found = rows.get(pk=imported.pk)
    _refuse_other(running, found, state)
    return found


def _refuse_other(running: Running, found: Import, state: State) -> None:
    if (found.state, found.version) != (state, running.parameters["version"]):
        raise Conflict(
            _("The import was given up or undone since this was asked for. Look at it as it is now.")
        )


def _told(counts: dict[str, dict[str, int]]) -> str:
    told = [
        f"{figures[word]} {name} {words}"
        for name, figures in counts.items()
        for word, words in (("created", "new"), ("updated", "changed"))
        if figures[word]
    ]
    return ", ".join(told) or "nothing written"


def _outcome(
    imported: Import, sentence: str, counts: dict[str, dict[str, int]], conflicts: int
) -> dict[str, Any]:
    facts = {
        _("New"): sum(figures["created"] for figures in counts.values()),
        _("Changed"): sum(figures["updated"] for figures in counts.values()),
        _("Left out: changed since"): conflicts,
    }
    return {"sentence": sentence, "url": reverse("imports:detail", args=[imported.pk]), "facts": facts}
