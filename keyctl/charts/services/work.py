"""What the worker does with a chart: solve it, and make a key system of it."""

import json
from collections.abc import Iterator
from time import monotonic
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.audit.services import record
from keyctl.charts.access import WORKERS
from keyctl.charts.models import LockChart
from keyctl.charts.selectors import STAGES
from keyctl.charts.services.drawing import kept_of, locked
from keyctl.charts.services.starting import MAKE, SOLVE
from keyctl.cores.services.bulk import register_cores
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.running import Running
from keyctl.lib.errors import Conflict
from keyctl.lib.language import in_english, in_sentence
from keyctl.places.access import require_role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import NewKey, add_symbols, open_system
from keyctl.vault import services as vault

State = LockChart.State
Kind = KeySymbol.Kind
SECONDS_BETWEEN_SAVES = 10
CORES_AT_ONCE = 200


def register_kinds() -> None:
    register_kind(SOLVE, gettext_lazy("Solve a lock chart"), solve_chart, by_limit=True)
    register_kind(MAKE, gettext_lazy("Make a key system of a lock chart"), make_system)


class _Watcher:
    """Tells how far a search is, and keeps its checkpoint from time to time and when it is stopped."""

    def __init__(self, running: Running, limit_s: float) -> None:
        self.running, self.limit_s = running, limit_s
        self.begun = self.saved = monotonic()

    def __call__(self, progress: Any, checkpoint: Any) -> None:
        words = _("{stage}: {failing} pairs open, {ruled_out} ruled out").format(
            stage=STAGES[progress.stage], failing=progress.failing, ruled_out=progress.ruled_out
        )
        try:
            self.running.step(min(int(monotonic() - self.begun), int(self.limit_s)), int(self.limit_s), words)
        except Exception:
            self.running.save(checkpoint.to_mapping())
            raise
        if monotonic() - self.saved > SECONDS_BETWEEN_SAVES:
            self.running.save(checkpoint.to_mapping())
            self.saved = monotonic()


def solve_chart(running: Running) -> dict[str, Any]:
    chart = LockChart.objects.select_related("site").get(pk=running.parameters["chart"])
    require_role(running.actor, chart.site, *WORKERS)
    _refuse_changed(chart, running)
    read = engine.read_chart(chart.format_id, chart.mapping(kept_of(chart)))
    limit_s = float(running.parameters["limit_s"])
    watcher = _Watcher(running, limit_s)
    solution, clash = engine.solve_chart(read, limit_s, running.checkpoint, watcher)
    with transaction.atomic():
        chart = locked(running.actor, chart.pk, running.parameters["version"])
        chart.state = State(solution.status)
        chart.findings = _findings(solution, clash)
        if solution.status == "solved":
            answer = {"bittings": dict(solution.bittings), "control": solution.control}
            chart.answer = vault.seal(chart, "answer", json.dumps(answer))
        chart.version += 1
        chart.save()
        state = in_english(State(chart.state).label).lower()
        record(
            actor=running.actor,
            verb="chart.solved" if solution.status == "solved" else "chart.not_solved",
            sentence=f"worked on the lock chart {chart}: {state}",
            site_id=chart.site_id,
            subjects=[chart],
        )
    sentence = f"{chart}: {in_sentence(chart.get_state_display())}."
    return {
        "sentence": sentence,
        "url": _page(chart),
        "facts": {_("Keys"): len(chart.keys), _("Locks"): len(chart.locks)},
    }


def _findings(solution: Any, clash: engine.Clashing | None) -> dict[str, Any]:
    reached = solution.reached
    return {
        "let_in": [list(pair) for pair in solution.let_in],
        "clash": [str(each) for each in clash.requirements] if clash else [],
        "clashing": [[each.what, each.key, each.lock] for each in clash.requirements] if clash else [],
        "is_minimal": clash.is_minimal if clash else False,
        "reached": None
        if reached is None
        else {
            "stage": in_english(STAGES[reached.stage]),
            "ruled_out": reached.ruled_out,
            "failing": reached.failing,
        },
    }


def make_system(running: Running) -> dict[str, Any]:
    """The keys in one act, then the cores in batches."""
    chart = LockChart.objects.select_related("site").get(pk=running.parameters["chart"])
    require_role(running.actor, chart.site, *WORKERS)
    read = engine.read_chart(chart.format_id, chart.mapping(kept_of(chart)))
    tree, total = engine.chart_tree(read), len(chart.locks)
    if "system" not in running.checkpoint:
        _refuse_changed(chart, running)
        running.step(0, total, _("Storing the keys"))
        _store_keys(running, chart, tree)
    system = KeySystem.objects.get(pk=running.checkpoint["system"])
    symbols = {symbol.symbol: symbol for symbol in system.symbols.exclude(kind=Kind.CONTROL)}
    done = int(running.checkpoint["cores"])
    while done < total:
        running.step(done, total, _("Registering cores"))
        batch = chart.locks[done : done + CORES_AT_ONCE]
        keyings = [[symbols[key] for key in tree.lowest(lock["opens"])] for lock in batch]
        with transaction.atomic():
            register_cores(actor=running.actor, site=chart.site, system=system, keyings=keyings)
            done += len(batch)
            running.save({"system": str(system.pk), "cores": done})
    facts = {_("Keys"): len(chart.keys), _("Cores"): total}
    sentence = _("The key system {code} is made; its cores are registered and wait on the bench.").format(
        code=system.code
    )
    return {"sentence": sentence, "url": reverse("systems:detail", args=[system.pk]), "facts": facts}


def _store_keys(running: Running, chart: LockChart, tree: engine.ChartTree) -> None:
    answer = json.loads(vault.unseal(chart, "answer"))
    with transaction.atomic():
        chart = locked(running.actor, chart.pk, running.parameters["version"])
        system = open_system(
            actor=running.actor,
            sites=[chart.site],
            code=running.parameters["code"],
            name=running.parameters["name"],
            format_id=chart.format_id,
            keyway=chart.keyway,
            levels=max(tree.levels.values()) + 1,
            control=answer["control"],
        )
        entries = list(_entries(chart, tree, answer["bittings"]))
        add_symbols(actor=running.actor, system=system, entries=entries, origin=KeySymbol.Origin.CHARTED)
        chart.state, chart.system = State.USED, system
        chart.version += 1
        chart.save()
        record(
            actor=running.actor,
            verb="chart.used",
            sentence=f"made the key system {system.code} of the lock chart {chart}",
            site_id=chart.site_id,
            subjects=[chart, system],
        )
        running.save({"system": str(system.pk), "cores": 0})


def _entries(chart: LockChart, tree: engine.ChartTree, bittings: dict[str, str]) -> Iterator[NewKey]:
    masters = set(tree.parents.values())
    places: dict[str | None, int] = {}
    for key in chart.keys:
        parent = tree.parents[key]
        ordinal = places[parent] = places.get(parent, -1) + 1
        kind = Kind.MASTER if key in masters else Kind.CHANGE
        yield NewKey(key, kind, bittings[key], parent, tree.levels[key], ordinal)


def _refuse_changed(chart: LockChart, running: Running) -> None:
    if chart.version != running.parameters["version"]:
        raise Conflict(_("The chart was changed after this was asked for. Ask again."))


def _page(chart: LockChart) -> str:
    return reverse("charts:detail", args=[chart.pk])
