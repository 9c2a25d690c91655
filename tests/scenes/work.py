"""Work orders, pin stock, jobs, and a lost control key."""

from typing import Any

from django.utils import timezone

from keyctl import engine
from keyctl.orders.services import (
    open_cut_order,
    open_decode_order,
    open_inspect_order,
    open_lock_out,
    open_pin_order,
    open_swap_order,
)
from keyctl.recovery.models import CoreReading
from keyctl.recovery.services import open_case, register_blanks
from keyctl.stock.services import stock_kit
from keyctl.vault import services as vault
from tests import factories
from tests.scenes.base import Base

OF_ORDER = ("start", "wait", "go-on", "assign", "take")
OF_BENCH = ("bench-core", "bench-pin", "bench-stacks", "bench-try", "bench-let-go")
OF_SITE = ("site", "reorder", "add-kit", "count", "receive", "marks")
OF_BIN = ("bin", "count-bin", "move-bin", "mark-bin")
OF_BLANK = ("blank", "receive", "scrap", "count")
OF_JOB = ("detail", "cancel", "resume")
OF_CASE = (
    "detail",
    "choose-core",
    "close",
    "cancel",
    "read",
    "differences",
    "choose-key",
    "approve",
    "show",
    "cut",
)


def routes(base: Base) -> dict[str, Any]:
    return {**of_orders(base), **of_stock(base), **of_recovery(base), **of_jobs(base)}


def of_orders(base: Base) -> dict[str, Any]:
    facts: dict[str, Any] = {"actor": base.cast.locksmith, "site": base.cast.north, "title": "Work"}
    fresh = factories.make_core(
        actor=base.cast.locksmith, site=base.cast.north, system=base.system, pinned=False
    )
    pin = open_pin_order(cores=[fresh], **facts)
    swap = open_swap_order(housings=[base.housing], **facts)
    cut = open_cut_order(counts={base.change: 1}, cabinet=base.cabinet, **facts)
    look = open_inspect_order(doors=[base.housing.door], **facts)
    unknown = factories.make_core(
        actor=base.cast.locksmith, site=base.cast.north, system=base.system, pinned=False
    )
    decode = open_decode_order(cores=[unknown], **facts)
    shut = open_lock_out(
        housings=[base.housing], asked_by="The caretaker", until=timezone.localdate(), **facts
    )
    return {
        "orders:detail": swap.pk,
        "orders:cancel": swap.pk,
        "orders:round": swap.pk,
        "orders:pin-all": pin.pk,
        "orders:swap": swap.lines.get().pk,
        "orders:pin-line": pin.lines.get().pk,
        "orders:pins-needed": pin.pk,
        "orders:cut-line": cut.lines.get().pk,
        **{f"orders:{name}": swap.pk for name in OF_ORDER},
        **{f"orders:{name}": pin.lines.get().pk for name in OF_BENCH},
        "orders:bench": pin.pk,
        "orders:allow": shut.pk,
        "orders:until": shut.pk,
        "orders:decoded": decode.lines.get().pk,
        "orders:check": look.lines.get().pk,
        "orders:unreached": look.lines.get().pk,
        "orders:follow-up": look.lines.get().pk,
        "prints:pinning-sheet": pin.pk,
        "prints:batch-sheet": pin.pk,
        "prints:cutting-list": cut.pk,
    }


def of_stock(base: Base) -> dict[str, Any]:
    site = base.cast.north
    bins = stock_kit(
        actor=base.cast.locksmith, site=site, format=engine.load_format(base.system.format_id), each=9
    )
    return {
        **{f"stock:{name}": site.pk for name in OF_SITE},
        **{f"stock:{name}": bins[0].pk for name in OF_BIN},
    }


def of_recovery(base: Base) -> dict[str, Any]:
    smith, site = base.cast.locksmith, base.cast.north
    blank = register_blanks(actor=smith, site=site, keyway=base.system.keyway)
    case = open_case(
        actor=smith, site=site, system=base.system, note="Missing since the morning", officer_told=True
    )
    reading = CoreReading(case=case, core=base.core, ordinal=1, read_by=smith)
    reading.findings = vault.seal(reading, "findings", "nothing was found")
    reading.save()
    return {
        **{f"recovery:{name}": case.pk for name in OF_CASE},
        **{f"recovery:{name}": blank.pk for name in OF_BLANK},
        "recovery:set-aside": reading.pk,
    }


def of_jobs(base: Base) -> dict[str, Any]:
    job = factories.make_job(base.cast.north, actor=base.cast.locksmith)
    return {**{f"jobs:{name}": job.pk for name in OF_JOB}, "jobs:file": factories.make_job_file(job).pk}
