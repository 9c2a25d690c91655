"""What the worker does with a list: check it, and write its keys and cores down."""

import json
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services.bulk import register_cores
from keyctl.inherited.access import BRINGERS
from keyctl.inherited.checking import OF_STEPS, check, core_labels, level_count
from keyctl.inherited.faults import Fault, depths_of
from keyctl.inherited.models import BittingList
from keyctl.inherited.rows import ListRow, rows_of
from keyctl.inherited.services.bringing import CHECK, WRITE, end, sheet_of
from keyctl.inherited.telling import tell_listeners
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.running import Running
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.spreadsheets import as_csv
from keyctl.lib.tags import clean_tag
from keyctl.places.access import require_role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import NewKey, add_symbols, open_system
from keyctl.vault import services as vault

Kind = KeySymbol.Kind
State = BittingList.State
MOST_FINDINGS = 20_000
CORES_AT_ONCE = 200
NUMBER = re.compile(r"^(?:.*\D)?([1-9][0-9]{0,5})$|^([1-9][0-9]{0,5})\D+$")


def register_kinds() -> None:
    register_kind(CHECK, gettext_lazy("Check a bitting list"), check_list)
    register_kind(WRITE, gettext_lazy("Write a bitting list"), write_list)


def check_list(running: Running) -> dict[str, Any]:
    listed = _list_of(running)
    require_role(running.actor, listed.site, *BRINGERS)
    if listed.version != running.parameters["version"]:
        raise Conflict(_("The list was changed after its check was asked for. Check it again."))
    rows = _rows(listed)
    faults = check(listed, rows, running.actor, lambda done, words: running.step(done, OF_STEPS, words))
    counts = _counts(rows, faults)
    with transaction.atomic():
        found = BittingList.objects.select_for_update().get(pk=listed.pk)
        if found.version != listed.version:
            raise Conflict(_("The list was changed while it was checked. Check it again."))
        told = json.dumps([fault.as_finding() for fault in faults[:MOST_FINDINGS]])
        found.findings = vault.seal(found, "findings", told)
        found.counts, found.state, found.checked_at = counts, State.CHECKED, timezone.now()
        found.version += 1
        found.save(update_fields=["findings", "counts", "state", "checked_at", "version"])
    sentence = _("{counts} errors and {counts_2} warnings in {counts_3} rows.").format(
        counts=counts["errors"], counts_2=counts["warnings"], counts_3=counts["rows"]
    )
    facts = {
        _("Keys"): counts["keys"],
        _("Cores"): counts["cores"],
        _("Rows without a finding"): counts["clean"],
    }
    return {"sentence": sentence, "url": _page(listed), "facts": facts}


def _counts(rows: Sequence[ListRow], faults: Sequence[Fault]) -> dict[str, int]:
    errors = sum(fault.is_error for fault in faults)
    return {
        "rows": len(rows),
        "keys": sum(not row.names_core_only for row in rows),
        "cores": len(core_labels(rows)),
        "errors": errors,
        "warnings": len(faults) - errors,
        "clean": len({row.number for row in rows} - {fault.row for fault in faults}),
    }


def write_list(running: Running) -> dict[str, Any]:
    """The keys in one act, then the cores in batches; the file goes with the last of them."""
    listed = _list_of(running)
    require_role(running.actor, listed.site, *BRINGERS)
    rows = _rows(listed)
    labels = _new_cores(listed, core_labels(rows))
    total = len(rows) + len(labels)
    running.step(0, total, _("Checking once more"))
    if "system" not in running.checkpoint:
        _write_keys(running, listed, rows, total)
    system = KeySystem.objects.get(pk=running.checkpoint["system"])
    names: list[list[str]] = running.checkpoint["cores"]
    for batch in _batches(labels, len(names)):
        running.step(len(rows) + len(names), total, _("Registering cores"))
        names = _write_cores(running, listed, system, batch, labels)
    _finish(running, listed, system, len(rows), names)
    facts = {_("Keys"): running.checkpoint["keys"], _("Cores"): len(names)}
    url = reverse("systems:detail", args=[system.pk])
    return {
        "sentence": _("The list is written into {code}; its file is deleted.").format(code=system.code),
        "url": url,
        "facts": facts,
    }


def _write_keys(running: Running, listed: BittingList, rows: Sequence[ListRow], total: int) -> None:
    """All keys or none; whatever changed since the dry run is met by checking again."""
    faults = check(listed, rows, running.actor, lambda _done, words: running.step(0, total, words))
    running.step(0, total, _("Writing the keys"))
    if errors := [fault for fault in faults if fault.is_error]:
        reasons = [f"{fault.place}: {fault.text}" for fault in errors[:10]]
        raise Refused(_("The list no longer fits the system. Check it again."), reasons=reasons)
    with transaction.atomic():
        _refuse_other(running, listed)
        system = listed.system or _opened(running, listed, rows)
        opened = [] if listed.system else [system]
        stored = {symbol.symbol: symbol for symbol in system.symbols.select_related("parent")}
        entries = list(_entries(rows, stored))
        made = _add(running, system, entries) if entries else []
        listed.system, listed.counts = system, listed.counts | {"written": len(entries)}
        listed.save(update_fields=["system", "counts"])
        tell_listeners(listed, running.actor, [*opened, *made])
        running.save({"system": str(system.pk), "keys": len(entries), "cores": []})


def _add(running: Running, system: KeySystem, entries: Sequence[NewKey]) -> list[KeySymbol]:
    return add_symbols(
        actor=running.actor, system=system, entries=entries, origin=KeySymbol.Origin.BROUGHT_IN
    )


def _refuse_other(running: Running, listed: BittingList) -> None:
    """A job that stopped and goes on later writes nothing once its list was turned back or changed."""
    found = BittingList.objects.select_for_update().only("state", "version").get(pk=listed.pk)
    if (found.state, found.version) != (State.WRITING, running.parameters["version"]):
        raise Conflict(_("The list was turned back or changed since this was asked for. Write it anew."))


def _opened(running: Running, listed: BittingList, rows: Sequence[ListRow]) -> KeySystem:
    return open_system(
        actor=running.actor,
        sites=[listed.site],
        code=listed.code,
        name=listed.system_name,
        format_id=listed.format_id,
        keyway=listed.keyway,
        levels=level_count(rows, {}),
    )


def _entries(rows: Sequence[ListRow], stored: Mapping[str, KeySymbol]) -> Iterator[NewKey]:
    keys = [row for row in rows if not row.names_core_only]
    depths, parents = depths_of(keys, stored), {row.parent for row in keys if row.parent}
    places = _Places(stored)
    for row in keys:
        if row.kind == Kind.CONTROL:
            yield NewKey(row.symbol, Kind.CONTROL, row.bitting)
            continue
        kind = row.kind or (Kind.MASTER if row.symbol in parents else Kind.CHANGE)
        ordinal = places.next_to(row.parent, row.symbol)
        yield NewKey(row.symbol, kind, row.bitting, row.parent or None, depths[row.symbol], ordinal)


class _Places:
    """Places among the keys under one master: as the symbol's number says, else the next free one."""

    def __init__(self, stored: Mapping[str, KeySymbol]) -> None:
        self.taken: dict[str, set[int]] = defaultdict(set)
        for symbol in stored.values():
            if not symbol.is_control:
                self.taken[symbol.parent.symbol if symbol.parent else ""].add(symbol.ordinal)
        self.free: dict[str, int] = defaultdict(int)

    def next_to(self, parent: str, symbol: str) -> int:
        taken, match = self.taken[parent], NUMBER.match(symbol)
        place = int(match[1] or match[2]) - 1 if match else self.free[parent]
        if place in taken:
            place = self.free[parent]
            while place in taken:
                place += 1
            self.free[parent] = place + 1
        taken.add(place)
        return place


def _new_cores(listed: BittingList, labels: Mapping[str, list[str]]) -> dict[str, list[str]]:
    """Those whose name is not the tag of a core on record."""
    tags = set(Core.objects.filter(site=listed.site).values_list("tag", flat=True))
    return {label: keys for label, keys in labels.items() if clean_tag(label) not in tags}


def _batches(labels: Mapping[str, list[str]], done: int) -> Iterator[list[str]]:
    names = list(labels)
    for start in range(done, len(names), CORES_AT_ONCE):
        yield names[start : start + CORES_AT_ONCE]


def _write_cores(
    running: Running,
    listed: BittingList,
    system: KeySystem,
    batch: list[str],
    labels: Mapping[str, list[str]],
) -> list[list[str]]:
    """(name in the list, tag) of every core so far."""
    wanted = {symbol for label in batch for symbol in labels[label]}
    with transaction.atomic():
        symbols = {symbol.symbol: symbol for symbol in system.symbols.filter(symbol__in=wanted)}
        keyings = [[symbols[name] for name in labels[label]] for label in batch]
        cores = register_cores(actor=running.actor, site=listed.site, system=system, keyings=keyings)
        pairs = [[label, core.tag] for label, core in zip(batch, cores, strict=True)]
        tell_listeners(listed, running.actor, cores)
        names = [*running.checkpoint["cores"], *pairs]
        running.save(running.checkpoint | {"cores": names})
    return names


def _finish(
    running: Running, listed: BittingList, system: KeySystem, rows: int, names: Sequence[Sequence[str]]
) -> None:
    with transaction.atomic():
        found = BittingList.objects.select_for_update(of=("self",)).select_related("site").get(pk=listed.pk)
        if found.state != State.WRITING:
            return
        end(found, State.DONE)
        if names:
            running.attach("cores.csv", "text/csv", _tags(names), subjects=[system])
        keys = running.checkpoint["keys"]
        record(
            actor=running.actor,
            verb="inherited.list_written",
            sentence=f"wrote {keys} keys and {len(names)} cores of a bitting list into {system.code}",
            site_id=found.site_id,
            subjects=[found, system],
            detail={"rows": rows, "keys": keys, "cores": len(names), "digest": found.digest},
        )
        tell_listeners(found, running.actor, [])


def _tags(names: Sequence[Sequence[str]]) -> bytes:
    """Which tag each core of the list got."""
    return as_csv([("Core or door in the list", "Tag"), *names])


def _list_of(running: Running) -> BittingList:
    return BittingList.objects.select_related("site", "system").get(pk=running.parameters["list"])


def _rows(listed: BittingList) -> list[ListRow]:
    return list(rows_of(sheet_of(listed), listed.columns, listed.has_header))


def _page(listed: BittingList) -> str:
    return reverse("inherited:detail", args=[listed.pk])


__all__ = ["check_list", "register_kinds", "write_list"]
