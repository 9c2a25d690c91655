"""The try-out of a core that an order pinned, before it leaves the bench.

Its pins say what each key is to do; the person says what it did in the core in their hand. What disagrees
keeps the core on the bench. Cores pinned in another way owe no try-out.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.orders.models import KeyTried, OrderLine, TryOut
from keyctl.orders.selectors import OWING, core_by_tag, keys_to_try, owing_line
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of

Effect = KeyTried.Effect
Trying = OrderLine.Trying

# What to look at, by what a key was to do and what it did.
LOOK_AT = {
    (
        Effect.TURNS,
        Effect.NOTHING,
    ): gettext_lazy(
        "It binds: look at the bottom and master pins for one too long, too short or in its "
        "neighbour's place, and at the springs."
    ),
    (
        Effect.TURNS,
        Effect.WITHDRAWS,
    ): gettext_lazy(
        "It takes the core out: look at the control pins at once. Do not let this core leave the bench."
    ),
    (
        Effect.WITHDRAWS,
        Effect.NOTHING,
    ): gettext_lazy("It binds: look at the control and top pins, and whether the sleeve moves freely."),
    (Effect.WITHDRAWS, Effect.TURNS): gettext_lazy(
        "It turns the plug only: look for a control pin left out or too short."
    ),
    (
        Effect.NOTHING,
        Effect.TURNS,
    ): gettext_lazy(
        "It must not turn: look for a master pin too much, a position left empty, or a pin worn short."
    ),
    (Effect.NOTHING, Effect.WITHDRAWS): gettext_lazy(
        "It must not take the core out: look at the control pins at once."
    ),
}


@dataclass(frozen=True)
class KeyDue:
    symbol: KeySymbol
    expected: str


@transaction.atomic
def keys_due(*, actor: User, line: OrderLine) -> list[KeyDue]:
    """The keys to try and what each is to do by the pins. What turns is no secret; the cuts stay sealed."""
    require_role(actor, line.order.site, Role.LOCKSMITH)
    core = _core_of(line)
    if not core.is_pinned:
        raise Refused(_("Core {core} holds no pins by the records. Pin it first.").format(core=core))
    pinned = pins_of(core)
    return [KeyDue(symbol, _effect(pinned, symbol)) for symbol in keys_to_try(core)]


@transaction.atomic
def record_try_out(
    *, actor: User, line: OrderLine, tag: str, found: Mapping[UUID, str], note: str = ""
) -> TryOut:
    """``found`` says what each key did, by its identifier; ``tag`` is read again on the core in hand."""
    line = _locked(actor, line)
    core = _core_of(line)
    _refuse_other_core(line, core, tag)
    due = keys_due(actor=actor, line=line)
    _refuse_untried(due, found)
    tried = [key for key in due if found.get(key.symbol.pk)]
    is_good = all(found[key.symbol.pk] == key.expected for key in tried)
    outcome = TryOut.Outcome.GOOD if is_good else TryOut.Outcome.WRONG
    made = TryOut.objects.create(line=line, outcome=outcome, why=note.strip()[:300], by=actor)
    KeyTried.objects.bulk_create(
        KeyTried(try_out=made, symbol=key.symbol, expected=key.expected, found=found[key.symbol.pk])
        for key in tried
    )
    what = "every key did what it should" if is_good else "a key did something else than its pins say"
    _keep(actor, line, Trying.GOOD if is_good else Trying.WRONG, f"tried core {core}: {what}")
    return made


@transaction.atomic
def let_go_untried(*, actor: User, line: OrderLine, why: str) -> TryOut:
    """The core may leave the bench all the same; who looks at the door later reads why."""
    if not why.strip():
        raise Refused(_("Say why the core leaves untried: who looks at its door later reads it."))
    line = _locked(actor, line)
    made = TryOut.objects.create(line=line, outcome=TryOut.Outcome.UNTRIED, why=why.strip()[:300], by=actor)
    _keep(actor, line, Trying.LET_GO, f"let core {line.core} leave untried: {made.why}")
    return made


def look_at(tried: KeyTried) -> str:
    """Words for a key that did something else than its pins say; none where it did what it should."""
    return str(LOOK_AT.get((Effect(tried.expected), Effect(tried.found)), ""))


def owe_try_out(line: OrderLine) -> None:
    """For a line about to be finished: its core was pinned just now."""
    line.trying = Trying.OWED


def why_untried(core: Core) -> str | None:
    """The sentence that keeps a core at the bench, None where it may leave."""
    line = owing_line(core)
    if line is None:
        return None
    if line.trying == Trying.WRONG:
        return _(
            "Core {core} was tried for {order} and a key did something else than its pins say. Build it "
            "anew at the bench and try it again."
        ).format(core=core, order=line.order)
    return _(
        "Core {core} was pinned for {order} and not tried since. Try it on the bench page of that "
        "order, or say there why it leaves untried."
    ).format(core=core, order=line.order)


def _effect(pinned: engine.Pinning, symbol: KeySymbol) -> str:
    turning = engine.try_key(pinned, engine.read_key(pinned.format.id, bitting_of(symbol)))
    if turning.withdraws:
        return Effect.WITHDRAWS
    return Effect.TURNS if turning.operates else Effect.NOTHING


def _locked(actor: User, line: OrderLine) -> OrderLine:
    rows = OrderLine.objects.select_for_update(of=("self",)).select_related("order__site", "core__system")
    line = rows.get(pk=line.pk)
    require_role(actor, line.order.site, Role.LOCKSMITH)
    if line.trying not in OWING:
        raise Conflict(
            _("{line} owes no try-out{because}. Nothing was changed.").format(
                line=line, because=_because(line)
            )
        )
    if line.core is None or owing_line(line.core) != line:
        raise Conflict(
            _("Core {core} was pinned anew since {line}. Try it where it was pinned last.").format(
                core=line.core, line=line
            )
        )
    return line


def _because(line: OrderLine) -> str:
    if line.trying == Trying.NOT_OWED:
        return _(": its core is not pinned yet") if line.is_open else ""
    return _(": {state} before").format(state=in_sentence(line.get_trying_display()))


def _core_of(line: OrderLine) -> Core:
    if line.core is None:
        raise Refused(_("{line} names no core.").format(line=line))
    return line.core


def _refuse_other_core(line: OrderLine, core: Core, tag: str) -> None:
    in_hand = core_by_tag(line.order.site, tag)
    if in_hand is None:
        raise Refused(
            _("No core at {site} has this tag. Read it again on the core in your hand.").format(
                site=line.order.site
            )
        )
    if in_hand.pk != core.pk:
        raise Refused(
            _(
                "You hold core {in_hand}, and this page is about {core}. Take that one, or open its own page."
            ).format(in_hand=in_hand, core=core)
        )


def _refuse_untried(due: list[KeyDue], found: Mapping[UUID, str]) -> None:
    """A key that is not at hand may be left out; those that its users carry may not."""
    reasons = [
        _("Say what {symbol} did.").format(symbol=key.symbol)
        for nth, key in enumerate(due)
        if found.get(key.symbol.pk) not in Effect and (nth == 0 or found.get(key.symbol.pk))
    ]
    if reasons:
        raise Refused(_("The try-out is not kept."), reasons=reasons)


def _keep(actor: User, line: OrderLine, trying: str, sentence: str) -> None:
    line.trying = trying
    line.save(update_fields=["trying"])
    record(
        actor=actor,
        verb="order.core_tried",
        sentence=f"{sentence}, order {line.order.number}",
        site_id=line.order.site_id,
        subjects=[line.order, *([line.core] if line.core else [])],
        detail={"line": line.ordinal, "trying": trying},
    )
