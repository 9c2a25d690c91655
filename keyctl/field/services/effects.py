"""What an event does to the register: the ordinary service does it, or refuses like anybody's act."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores import services as cores
from keyctl.cores.disputes import refuse_disputed, refuse_disputed_housing
from keyctl.cores.models import Core
from keyctl.field.parsing import Checked, Found, Noted, Photographed, Put, Swapped, Told, Unreached
from keyctl.field.services.photos import place_photo
from keyctl.field.things import Things
from keyctl.field.wording import CHECKS
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import hold_one
from keyctl.lib.language import in_english
from keyctl.lib.tags import grouped
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from keyctl.places.models import Housing

LONGEST_SENTENCE = 400
LONGEST_LINE_NOTE = 400


@dataclass(frozen=True)
class Act:
    """One event, and who answers for it: whoever did it, or whoever took it in for them."""

    told: Told
    doer: User
    things: Things


def apply(act: Act) -> None:
    """In the caller's savepoint; whatever it raises leaves the register as it was."""
    _EFFECTS[type(act.told.body)](act, act.told.body)


def _swap(act: Act, body: Swapped) -> None:
    housing = act.things.housing(act.doer, body.housing)
    core_in = act.things.core(act.doer, body.core_in)
    core_out = act.things.core(act.doer, body.core_out) if body.core_out else None
    if core_out is not None:
        _refuse_case_of_another(act, body.put_at)
    facts: dict[str, Any] = {
        "actor": act.doer,
        "core_in_version": _version_of(core_in, body.core_in_version),
        "core_out_id": core_out.pk if core_out else None,
        "core_out_version": _version_of(core_out, body.core_out_version) if core_out else None,
        "put_at": body.put_at,
    }
    if body.line is None:
        _refuse_untried(body)
        hold_one(housing)
        orders.refuse_while_shut(housing)
        cores.exchange_core(housing=housing, core_in=core_in, **facts)
    else:
        _swap_of_line(act, body, housing, core_in, facts)


def _swap_of_line(act: Act, body: Swapped, housing: Housing, core_in: Core, facts: dict[str, Any]) -> None:
    line = act.things.line(act.doer, body.line) if body.line else None
    if line is None or line.housing_id != housing.pk:
        raise Refused(gettext("{line} is not about {housing}.").format(line=line, housing=housing))
    orders.complete_swap(
        line=line,
        core_in=core_in,
        note=body.note[:LONGEST_LINE_NOTE],
        **{name: getattr(body, name) for name, _ in CHECKS},
        **facts,
    )


def _put(act: Act, body: Put) -> None:
    core = act.things.core(act.doer, body.core)
    _refuse_case_of_another(act, body.place)
    version = _version_of(core, body.core_version)
    cores.move_core(actor=act.doer, core=core, version=version, place=body.place)


def _found(act: Act, body: Found) -> None:
    housing = act.things.housing(act.doer, body.housing)
    held = Core.objects.filter(housing=housing).first()
    if body.core != (held.tag if held else ""):
        if body.core:
            act.things.core(act.doer, body.core)
        text = gettext("By the register {housing} holds core {core}.")
        if held is None:
            text = gettext("By the register {housing} holds no core.")
        raise Conflict(text.format(housing=housing, core=held))
    refuse_disputed(held)
    refuse_disputed_housing(housing)
    found = f"found core {held} in {in_english(housing)}" if held else f"found {in_english(housing)} empty"
    _record(act, "field.found", found, housing.door.site.pk, housing.door, held)


def _unreached(act: Act, body: Unreached) -> None:
    line = act.things.line(act.doer, body.line)
    orders.report_unreached(actor=act.doer, line=line, reason=body.reason[:LONGEST_LINE_NOTE])


def _checked(act: Act, body: Checked) -> None:
    line = act.things.line(act.doer, body.line)
    orders.check_line(actor=act.doer, line=line, items=dict(body.items), note=body.note[:LONGEST_LINE_NOTE])


def _noted(act: Act, body: Noted) -> None:
    line = act.things.line(act.doer, body.line) if body.line else None
    door = _door_of(act, body.door, line)
    if line is None and door is None:
        home = min(act.things.works_at(act.doer), default=None)
        _record(act, "field.noted", f"noted: {body.text}", home)
        return
    site = line.order.site_id if line else door.site.pk if door else None
    order = line.order if line else None
    _record(act, "field.noted", f"noted at {door or line}: {body.text}", site, door, order)


def _photographed(act: Act, body: Photographed) -> None:
    line = act.things.line(act.doer, body.line) if body.line else None
    door = act.things.door(act.doer, body.door)
    place_photo(
        actor=act.doer,
        photo=body.photo,
        sha256=body.sha256,
        door=door,
        line=line,
        caption=body.caption,
        claimed_at=act.told.claimed_at,
    )
    words = f"took a photo of {door}" + (f": {body.caption}" if body.caption else "")
    order = line.order if line else None
    _record(act, "field.photographed", words, door.site.pk, door, order)


_EFFECTS: dict[type, Callable[[Act, Any], None]] = {
    Swapped: _swap,
    Put: _put,
    Found: _found,
    Unreached: _unreached,
    Checked: _checked,
    Noted: _noted,
    Photographed: _photographed,
}


def _version_of(core: Core, told: int | None) -> int:
    """Without a version nobody can say whether what was done since is later or earlier."""
    if told is None:
        raise Conflict(
            gettext("The tablet did not know core {core}, so that it cannot be said what came first.").format(
                core=core
            )
        )
    return told


def _refuse_case_of_another(act: Act, place: str) -> None:
    """Whoever takes in what another wrote does not carry that person's case."""
    if place == Core.Place.CASE and act.told.person != act.doer.pk:
        raise Refused(
            gettext(
                "The core went into the case of whoever wrote it, and {doer} handed it in: somebody has to "
                "say where it is."
            ).format(doer=act.doer)
        )


def _refuse_untried(body: Swapped) -> None:
    if untried := [words for name, words in CHECKS if not getattr(body, name)]:
        raise Refused(
            gettext("Of core {grouped} nobody says that {untried}.").format(
                grouped=grouped(body.core_in), untried=" and that ".join(untried)
            )
        )


def _door_of(act: Act, door: UUID | None, line: OrderLine | None) -> Any:
    if door is not None:
        return act.things.door(act.doer, door)
    return line.door_at if line else None


def _record(act: Act, verb: str, sentence: str, site: UUID | None, *subjects: Any) -> None:
    record(
        actor=act.doer,
        verb=verb,
        sentence=sentence[:LONGEST_SENTENCE],
        site_id=site,
        subjects=[thing for thing in subjects if thing is not None],
        detail=_detail(act, sentence),
    )


def _detail(act: Act, sentence: str) -> dict[str, str]:
    """A remark that is longer than a sentence of history stands here in full."""
    detail = {"event": str(act.told.event_id), "claimed_at": act.told.claimed_at.isoformat()}
    return detail | ({"text": sentence} if len(sentence) > LONGEST_SENTENCE else {})
