"""One batch of an import, written or taken back, inside the caller's transaction."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from uuid import UUID

from django.db import connection, models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.audit.models import EventSubject
from keyctl.audit.services import record
from keyctl.imports.kinds import Kind
from keyctl.imports.models import Change
from keyctl.imports.records import Deed, Records, Values, digest_of

State = Change.State
WRITTEN, TAKEN_BACK = "import.rows_written", "import.rows_undone"
SINCE = gettext_lazy("It was changed after the dry run")
LONGEST_REASON = 400
# Each row its own: as one statement of hundreds of cases it took more time than all else of a batch.
LEFT = f'UPDATE {Change._meta.db_table} SET "left" = %s WHERE id = %s'  # noqa: S608 (a name of our own)


def write_batch(deed: Deed, kind: Kind, changes: Sequence[Change]) -> int:
    """Write the rows that still are as the dry run saw them; returns how many. The others say why not."""
    done: list[Change] = []
    for thing, rows in _by_thing(kind.things, changes):
        done += _write(deed, thing, rows)
    if done:
        _note_written(deed, kind, done)
    _note_refused(changes, State.CONFLICT)
    return len(done)


def undo_batch(deed: Deed, kind: Kind, changes: Sequence[Change]) -> int:
    """Take back the rows that nobody changed or built upon since; the others stay, and say why."""
    done: list[Change] = []
    for thing, rows in _by_thing(tuple(reversed(kind.things)), changes):
        done += _undo(deed, thing, rows)
    if done:
        event = record(
            actor=deed.actor,
            verb=TAKEN_BACK,
            sentence=f"took back {_rows(done)} of the import {deed.imported}",
            site_id=deed.imported.site_id,
            subjects=[deed.imported, *_subjects(kind, done)],
            detail={"rows": len(done)},
        )
        Change.objects.filter(pk__in=[change.pk for change in done]).update(
            state=State.UNDONE, event=event.pk
        )
    _note_refused(changes, State.KEPT)
    return len(done)


def _write(deed: Deed, thing: Records, rows: Sequence[Change]) -> list[Change]:
    new = {row.thing_id: row.values for row in rows if row.act == Change.Act.CREATE}
    old = {row.thing_id: row.values for row in rows if row.act == Change.Act.CHANGE}
    thing.hold(old)
    refused = _changed_since(thing, rows) | thing.clashes({**new, **old})
    written = thing.create(deed, _without(new, refused))
    refused |= written.refused
    moved = [change for change in rows if change.thing_id in written.other]
    for change in moved:
        change.thing_id = written.other[change.thing_id]
    Change.objects.bulk_update(moved, ["thing_id"])
    refused |= thing.change(deed, _without(old, refused)).refused
    return _parted(rows, refused, State.CONFLICT)


def _undo(deed: Deed, thing: Records, rows: Sequence[Change]) -> list[Change]:
    made = [row.thing_id for row in rows if row.act == Change.Act.CREATE]
    back = {row.thing_id: row.before for row in rows if row.act == Change.Act.CHANGE}
    thing.hold([*made, *back])
    refused = thing.clashes(back) | _used_since(thing, rows)
    going = [pk for pk in made if pk not in refused]
    # What stays may stand on others of the same batch, which then stay, too.
    while upon := thing.built_upon(going):
        refused |= upon
        going = [pk for pk in going if pk not in upon]
    thing.restore(deed, _without(back, refused))
    thing.remove(deed, going)
    return _parted(rows, refused, State.KEPT)


def _changed_since(thing: Records, rows: Iterable[Change]) -> dict[UUID, str]:
    """Rows that are not as the dry run saw them any more."""
    seen = {row.thing_id: row.seen for row in rows if row.act == Change.Act.CHANGE}
    now = {pk: digest_of(state) for pk, state in thing.states(seen).items()} if seen else {}
    return {pk: str(SINCE) for pk, digest in seen.items() if now.get(pk) != digest}


def _used_since(thing: Records, rows: Sequence[Change]) -> dict[UUID, str]:
    """Rows that are not as the import left them, and those that history names since."""
    left = {row.thing_id: row.left for row in rows}
    now = {pk: digest_of(state) for pk, state in thing.states(left).items()}
    words = _("It was changed since the import")
    changed = {pk: words for pk, digest in left.items() if now.get(pk) != digest}
    return _told_since(thing, rows) | changed


def _told_since(thing: Records, rows: Sequence[Change]) -> dict[UUID, str]:
    events = {row.thing_id: row.event or 0 for row in rows}
    named = EventSubject.objects.filter(
        kind=thing.model._meta.label_lower, subject_id__in=events, event_id__gt=min(events.values())
    ).exclude(event__verb__in=[WRITTEN, TAKEN_BACK])
    told = named.values_list("subject_id", "event_id", "event__actor_name", "event__sentence")
    return {
        pk: _("Since then {who} {did}").format(who=who, did=what)
        for pk, event, who, what in told
        if event > events[pk]
    }


def _note_written(deed: Deed, kind: Kind, done: Sequence[Change]) -> None:
    """History tells of the batch and each thing in it; then each row knows its entry and how it stands."""
    event = record(
        actor=deed.actor,
        verb=WRITTEN,
        sentence=f"wrote {_rows(done)} of the import {deed.imported}",
        site_id=deed.imported.site_id,
        subjects=[deed.imported, *_subjects(kind, done)],
        detail={"rows": len(done), "kind": kind.name},
    )
    left: list[tuple[str, int]] = []
    for thing, rows in _by_thing(kind.things, done):
        states = thing.states(row.thing_id for row in rows)
        left += [(digest_of(states[row.thing_id]), row.pk) for row in rows]
    Change.objects.filter(pk__in=[row.pk for row in done]).update(state=State.TAKEN, event=event.pk)
    with connection.cursor() as cursor:
        cursor.executemany(LEFT, left)


def _note_refused(changes: Iterable[Change], state: Change.State) -> None:
    Change.objects.bulk_update([each for each in changes if each.state == state], ["state", "reason"])


def _by_thing(things: Sequence[Records], changes: Sequence[Change]) -> Iterator[tuple[Records, list[Change]]]:
    for thing in things:
        if rows := [change for change in changes if change.thing == thing.name]:
            yield thing, rows


def _subjects(kind: Kind, done: Iterable[Change]) -> Iterator[models.Model]:
    for change in done:
        yield kind.thing(change.thing).model(pk=change.thing_id)


def _without(rows: Mapping[UUID, Values], refused: Mapping[UUID, str]) -> dict[UUID, Values]:
    return {pk: values for pk, values in rows.items() if pk not in refused}


def _parted(rows: Sequence[Change], refused: Mapping[UUID, str], state: Change.State) -> list[Change]:
    """Those that are done; the others are marked with the reason."""
    done = []
    for row in rows:
        if reason := refused.get(row.thing_id):
            row.state, row.reason = state, _look_again(reason)
        else:
            done.append(row)
    return done


def _look_again(reason: str) -> str:
    remedy = _("Look at it, and bring the row in again.")
    return f"{reason[: LONGEST_REASON - len(remedy) - 2].rstrip('.')}. {remedy}"


def _rows(done: Sequence[Change]) -> str:
    return f"{len(done)} row{'' if len(done) == 1 else 's'}"
