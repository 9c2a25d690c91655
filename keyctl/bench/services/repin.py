"""Keying a core anew: first the pins to change; then, when it is done, plan and pins together."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core, Keying
from keyctl.cores.services import pin_core, pins_for, pins_to_show
from keyctl.cores.services.locking import lock_core
from keyctl.cores.services.register import refuse_symbols
from keyctl.cores.turning import pins_of
from keyctl.keys.reveal import cuts_to_show
from keyctl.lib.errors import Refused
from keyctl.orders.services.opening import why_not_in_two_lines
from keyctl.reveals.services import reveal
from keyctl.reveals.things import Secret
from keyctl.stock import services as stock
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import control_of

BOOKED_FOR = gettext_lazy("a repinning at the bench")


@dataclass(frozen=True)
class RepinJob:
    """The core as it is, as it shall be, and the way from one to the other."""

    core: Core
    symbols: tuple[KeySymbol, ...]
    now: engine.Pinning
    target: engine.Pinning
    change: engine.Repin


def work_out_repin(
    *, actor: User, core: Core, version: int, symbols: Sequence[KeySymbol], sign_in: FreshSignIn
) -> RepinJob:
    """Which pins to change. History knows of it before the vault opens.

    The pins for a key say how it is cut, so a key that the core is not keyed to yet wants its own ground;
    and those for masters alone are masters' cuts.
    """
    found: list[Any] = reveal(
        actor=actor, sign_in=sign_in, wanted=lambda: _wanted(actor, core, version, symbols)
    )
    job: RepinJob = found[0]
    return job


def _wanted(actor: User, core: Core, version: int, symbols: Sequence[KeySymbol]) -> list[Secret[Any]]:
    core = lock_core(actor, core.pk, version)
    system = _refuse(core, symbols)
    known = set(core.keyed_to.values_list("pk", flat=True))
    pins: Secret[Any] = pins_to_show(core)
    job = replace(
        pins,
        words=f"the pins of core {core} and those for {_names(symbols)}, to repin it",
        verb="core.repin_shown",
        open=lambda: _worked_out(core, symbols, system),
        is_high=pins.is_high or all(symbol.kind != KeySymbol.Kind.CHANGE for symbol in symbols),
        about=tuple(symbols),
    )
    return [job, *(cuts_to_show(symbol) for symbol in symbols if symbol.pk not in known)]


def _worked_out(core: Core, symbols: Sequence[KeySymbol], system: KeySystem) -> RepinJob:
    now, target = pins_of(core), pins_for(core.format_id, symbols, control_of(system))
    return RepinJob(core, tuple(symbols), now, target, engine.repin(now, target))


@transaction.atomic
def repin_core(*, actor: User, core: Core, version: int, symbols: Sequence[KeySymbol]) -> Core:
    """The pins are changed: the core is keyed to these symbols from now on, and pinned so."""
    core = lock_core(actor, core.pk, version)
    system = _refuse(core, symbols)
    before = list(KeySymbol.objects.filter(keyings__core=core).order_by("symbol"))
    if {symbol.pk for symbol in before} != {symbol.pk for symbol in symbols}:
        _key_to(core, symbols)
        record(
            actor=actor,
            verb="core.rekeyed",
            sentence=f"keyed core {core} to {_names(symbols)} of {system.code} instead of {_names(before)}",
            site_id=core.site_id,
            subjects=[core, *before, *symbols],
        )
    before_pins = pins_of(core)
    core = pin_core(actor=actor, core=core, version=core.version)
    _book(actor, core, before_pins)
    return core


def why_not_to_repin(core: Core) -> str | None:
    """The sentence that keeps a core from being keyed anew, None where it may be."""
    if core.place == Core.Place.HOUSING:
        return _("Core {core} is {whereabouts}; take it out with a swap order, then repin it.").format(
            core=core, whereabouts=core.whereabouts
        )
    if core.place == Core.Place.GONE:
        return _("Core {core} is gone; register the core you hold as a new one.").format(core=core)
    if core.system is None:
        return _("Core {core} is keyed to no system; key it first.").format(core=core)
    if not core.is_pinned:
        return _("Core {core} is not pinned yet; open a pin order for it.").format(core=core)
    return why_not_in_two_lines(core)


def _refuse(core: Core, symbols: Sequence[KeySymbol]) -> KeySystem:
    if reason := why_not_to_repin(core):
        raise Refused(reason)
    system = core.system
    if system is None:  # told above
        raise AssertionError
    refuse_symbols(system, symbols)
    return system


def _key_to(core: Core, symbols: Sequence[KeySymbol]) -> None:
    Keying.objects.filter(core=core).delete()
    Keying.objects.bulk_create([Keying(core=core, symbol=symbol) for symbol in symbols])


def _book(actor: User, core: Core, before: engine.Pinning) -> None:
    """What came from the kit. What went back, somebody looks at first, and puts into its bin by hand.

    The movement names no core: who counts pins need not know which of them a core is built of.
    """
    after = pins_of(core)
    if used := engine.repin(before, after).add:
        stock.book_use(actor=actor, site=core.site, format=after.format, pins=used, order=BOOKED_FOR)


def _names(symbols: Sequence[KeySymbol]) -> str:
    return ", ".join(sorted(map(str, symbols))) or "no key"
