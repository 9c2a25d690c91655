"""Drawing a chart: its keys and locks, who opens what, the bittings that are kept, the rules."""

import json
from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.charts.access import WORKERS
from keyctl.charts.models import LockChart
from keyctl.charts.sheets import DrawnChart, read_table
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.numbers import as_number
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.vault import services as vault

LONGEST_KEY = 20  # a key's name becomes its symbol
LONGEST_LOCK = 60
MOST_NAMES = 5_000
State = LockChart.State
NOTHING_KEPT: dict[str, Any] = {"bittings": {}, "control": None}


def create_chart(
    *,
    actor: User,
    site: Site,
    name: str,
    format_id: str,
    keyway: str,
    content: bytes = b"",
) -> LockChart:
    """A chart at a site, empty or as a table draws it."""
    require_role(actor, site, *WORKERS)
    engine.load_format(format_id)
    chart = LockChart(site=site, name=name, format_id=format_id, keyway=keyway, created_by=actor)
    chart.kept = vault.seal(chart, "kept", json.dumps(NOTHING_KEPT))
    if content:
        _take_over(chart, read_table(content))
    with transaction.atomic():
        chart.save(force_insert=True)
        _record(actor, chart, "created", f"began the lock chart {name} with {_size(chart)}")
    return chart


def take_over_table(*, actor: User, chart: LockChart, version: int, content: bytes) -> LockChart:
    """Everything in the chart is replaced by what a table draws.

    A large table takes seconds to read, in which nobody else shall wait to write.
    """
    require_role(actor, chart.site, *WORKERS)
    drawn = read_table(content)
    with transaction.atomic():
        chart = locked(actor, chart.pk, version)
        _take_over(chart, drawn)
        return _changed(actor, chart, "read", f"read the lock chart {chart} from a table: {_size(chart)}")


def _take_over(chart: LockChart, drawn: DrawnChart) -> None:
    chart.keys, chart.locks = drawn.keys, drawn.locks
    _keep(chart, {"bittings": drawn.bittings, "control": None})
    _refuse_unsound(chart)


@transaction.atomic
def add_to_chart(
    *, actor: User, chart: LockChart, version: int, keys: Sequence[tuple[str, str]], locks: Sequence[str]
) -> LockChart:
    """Further keys, each with the bitting it keeps or "", and further locks, which nobody opens yet."""
    chart = locked(actor, chart.pk, version)
    if not keys and not locks:
        raise Refused(gettext("Name a key or a lock to add."))
    kept = kept_of(chart)
    chart.keys = [*chart.keys, *(name for name, _ in keys)]
    chart.locks = [*chart.locks, *({"id": name, "opens": [], "may": []} for name in locks)]
    kept["bittings"] |= {name: bitting for name, bitting in keys if bitting}
    _keep(chart, kept)
    _refuse_unsound(chart)
    return _changed(actor, chart, "extended", f"added to the lock chart {chart}: now {_size(chart)}")


@transaction.atomic
def mark_pairs(
    *, actor: User, chart: LockChart, version: int, marks: Mapping[tuple[str, str], str]
) -> LockChart:
    """By lock and key: "opens", "may" or "out"."""
    chart = locked(actor, chart.pk, version)
    said: dict[str, dict[str, str]] = {}
    for (name, key), mark in marks.items():
        said.setdefault(name, {})[key] = mark
    for lock in chart.locks:
        if here := said.get(lock["id"]):
            for place in ("opens", "may"):
                kept = set(lock[place]) - here.keys() | {key for key in here if here[key] == place}
                lock[place] = [key for key in chart.keys if key in kept]
    return _changed(actor, chart, "marked", f"marked pairs in the lock chart {chart}")


@transaction.atomic
def accept_pairs(*, actor: User, chart: LockChart, version: int) -> LockChart:
    """What no bitting can avoid is let in: the pairs found before solving do not matter any more."""
    chart = locked(actor, chart.pk, version)
    pairs = engine.chart_consequences(engine.read_chart(chart.format_id, chart.mapping(kept_of(chart))))
    if not pairs:
        raise Refused(gettext("There is nothing to accept: no pair is known that cannot be avoided."))
    more: dict[str, set[str]] = {}
    for pair in pairs:
        more.setdefault(pair.lock, set()).add(pair.key)
    for lock in chart.locks:
        if here := more.get(lock["id"]):
            here |= set(lock["may"])
            lock["may"] = [key for key in chart.keys if key in here]
    sentence = f"accepted {len(pairs)} pairs in the lock chart {chart} that cannot be avoided"
    return _changed(actor, chart, "accepted", sentence)


@transaction.atomic
def set_rules(*, actor: User, chart: LockChart, version: int, rules: Mapping[str, int]) -> LockChart:
    chart = locked(actor, chart.pk, version)
    chart.rules = dict(rules)
    return _changed(actor, chart, "ruled", f"set the rules of the lock chart {chart}")


def locked(actor: User, pk: UUID, version: int) -> LockChart:
    """The chart for a change; refused where it is done with, or somebody else changed it."""
    chart = LockChart.objects.select_for_update(of=("self",)).select_related("site").get(pk=pk)
    require_role(actor, chart.site, *WORKERS)
    if not chart.is_open:
        raise Refused(gettext("This chart was made into a key system; draw another one for further keys."))
    if chart.version != version:
        raise Conflict(gettext("Somebody else changed this chart. Look at it again."))
    return chart


def kept_of(chart: LockChart) -> dict[str, Any]:
    """The bittings that are kept; nobody sees them."""
    found: dict[str, Any] = json.loads(vault.unseal(chart, "kept"))
    return found


def _keep(chart: LockChart, kept: dict[str, Any]) -> None:
    chart.kept = vault.seal(chart, "kept", json.dumps(kept))
    chart.kept_keys = [key for key in chart.keys if kept["bittings"].get(key)]


def _changed(actor: User, chart: LockChart, verb: str, sentence: str) -> LockChart:
    """A changed chart is no longer solved."""
    chart.state, chart.answer, chart.findings = State.DRAFT, None, {}
    chart.version += 1
    chart.save()
    _record(actor, chart, verb, sentence)
    return chart


def _refuse_unsound(chart: LockChart) -> None:
    """Names that cannot stand, and bittings that are none; of these only the keys are named."""
    reasons = [
        gettext("{key!r} cannot name a key: 1 to {longest_key} signs.").format(
            key=key, longest_key=LONGEST_KEY
        )
        for key in chart.keys
        if _odd(key, LONGEST_KEY)
    ]
    reasons += [
        gettext("{lock!r} cannot name a lock: 1 to {longest_lock} signs.").format(
            lock=lock["id"], longest_lock=LONGEST_LOCK
        )
        for lock in chart.locks
        if _odd(lock["id"], LONGEST_LOCK)
    ]
    reasons += [
        gettext("Key {name} is named twice.").format(name=name) for name in sorted(_twice(chart.keys))
    ]
    reasons += [
        gettext("Lock {name} is named twice.").format(name=name)
        for name in sorted(_twice([lock["id"] for lock in chart.locks]))
    ]
    bittings = kept_of(chart)["bittings"]
    reasons += [
        gettext("Key {key}: no key of this format has such cuts.").format(key=key)
        for key, text in bittings.items()
        if not engine.is_key(chart.format_id, text)
    ]
    if len(chart.keys) > MOST_NAMES or len(chart.locks) > MOST_NAMES:
        reasons.append(
            gettext("A chart has {most_names} keys and as many locks at most; draw several.").format(
                most_names=as_number(MOST_NAMES)
            )
        )
    if reasons:
        raise Refused(gettext("The chart cannot be kept like this."), reasons=reasons[:10])


def _odd(name: str, longest: int) -> bool:
    return not (0 < len(name) <= longest and name.isprintable())


def _twice(names: Sequence[str]) -> set[str]:
    seen: set[str] = set()
    return {name for name in names if name in seen or seen.add(name)}  # type: ignore[func-returns-value]


def _size(chart: LockChart) -> str:
    return f"{len(chart.keys)} keys and {len(chart.locks)} locks"


def _record(actor: User, chart: LockChart, verb: str, sentence: str) -> None:
    record(actor=actor, verb=f"chart.{verb}", sentence=sentence, site_id=chart.site_id, subjects=[chart])
