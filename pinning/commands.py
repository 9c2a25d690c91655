"""The forms of `python -m pinning`: one JSON object in, one JSON object out. See COMMANDS.md."""

import json
from collections import Counter
from collections.abc import Callable
from typing import Any, NoReturn

from pinning.assessing import exposure_form
from pinning.bittings import parse_any_bitting, refusals_of
from pinning.calipers import read_key
from pinning.charting import solve_form
from pinning.columns import Pin, Pinning, PinStack, parse_stacks
from pinning.doubts import Doubt
from pinning.errors import Refusal, Refusals, Refused, collect
from pinning.fields import Fields
from pinning.formats import EMPTY, ROLES, CoreFormat, load_all, to_mapping
from pinning.inheriting import reconstruct_form
from pinning.inputs import format_of, told_apart
from pinning.measuring import DEFAULT_TOLERANCE_IN
from pinning.planning import audit_form, count_form, progress_form
from pinning.reading import read_stacks
from pinning.repin import ChamberChange, repin
from pinning.shear import BLANKS, Turning, turn
from pinning.stacks import pin
from pinning.suggesting import suggest_form

__all__ = ["LARGEST_INPUT", "answer", "largest_input"]

LARGEST_INPUT = 1_000_000
# A whole estate is more text than one core.
LARGER_INPUTS = {"audit": 32_000_000, "suggest": 32_000_000, "solve": 32_000_000}
DEEPEST_NESTING = 8

Answer = dict[str, Any]


def answer(form: str, source: bytes) -> tuple[int, Answer]:
    """(exit status, output object): 0 and the result, or 2 and `{"errors": [...]}`."""
    try:
        if form not in FORMS:
            _refuse("unknown_form", f"{form[:40]!r} is no form; use one of {', '.join(FORMS)}.")
        return 0, FORMS[form](_read(source, largest_input(form)))
    except Refused as refused:
        return 2, {"errors": [_error(refusal) for refusal in refused.refusals]}


def largest_input(form: str) -> int:
    """How many bytes a form reads."""
    return LARGER_INPUTS.get(form, LARGEST_INPUT)


def _error(refusal: Refusal) -> Answer:
    return {"code": refusal.code, "message": refusal.message, "position": refusal.position}


def _refuse(code: str, message: str) -> NoReturn:
    raise Refused([Refusal(code, message)])


def _read(source: bytes, most: int) -> object:
    if len(source) > most:
        _refuse("too_large", f"The input is larger than {most} bytes; send less at a time.")
    try:
        value = json.loads(
            source.decode("utf-8"), object_pairs_hook=_unique_fields, parse_constant=_refuse_constant
        )
    except Refused:
        raise
    except (ValueError, RecursionError) as error:
        _refuse("json", f"The input is not JSON in UTF-8 ({type(error).__name__}); send one JSON object.")
    if _nesting(value) > DEEPEST_NESTING:
        _refuse("too_deep", f"The input is nested deeper than {DEEPEST_NESTING} levels; flatten it.")
    return value


def _unique_fields(pairs: list[tuple[str, object]]) -> dict[str, object]:
    fields = dict(pairs)
    if len(fields) < len(pairs):
        _refuse("duplicate_field", "A field is given twice in one object; give each once.")
    return fields


def _refuse_constant(name: str) -> NoReturn:
    _refuse("json", f"{name} is no JSON number; send a finite number.")


def _nesting(value: object) -> int:
    """How deep arrays and objects stand in each other, level by level so that depth costs no stack."""
    depth, level = 0, [value]
    while level := [item for item in level if isinstance(item, dict | list)]:
        depth += 1
        level = [part for item in level for part in (item.values() if isinstance(item, dict) else item)]
    return depth


def _pin(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "operating", "control"))
    format = format_of(fields)
    operating = fields.items("operating", 100_000)
    _refuse_other_than_texts(operating, format, refusals)
    control = fields.text("control", 100) if fields.has("control") else None
    if format is None or len(refusals):
        raise Refused(refusals)
    return _pinned(pin(format, [str(key) for key in operating], control))


def _refuse_other_than_texts(keys: list[object], format: CoreFormat | None, refusals: Refusals) -> None:
    """If some keys are no texts, nothing is pinned; the faults of the others are then told here."""
    if all(isinstance(key, str) for key in keys):
        return
    for number, key in enumerate(keys, 1):
        name = f"operating key {number}"
        if not isinstance(key, str):
            refusals.add("type", f"{name}: a text of cuts is expected; correct it.")
        elif format is not None:
            refusals.extend(refusals_of(format, key, name, EMPTY))


def _pinned(pinning: Pinning) -> Answer:
    return {"stacks": [_stack(stack) for stack in pinning.stacks], "accepts": pinning.accepts}


def _stack(stack: PinStack) -> Answer:
    return {
        "position": stack.position,
        "bottom": None if stack.is_empty else stack.bottom,
        "masters": list(stack.masters),
        "control": stack.control,
        "top": None if stack.is_empty else stack.top,
        "total": stack.total,
    }


def _turn(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "stacks", "key", "blank"))
    format = format_of(fields)
    key = fields.text("key", 100)
    blank = fields.choice("blank", BLANKS) if fields.has("blank") else BLANKS[0]
    stacks = fields.value("stacks")
    if format is None:
        raise Refused(refusals)
    pinning = collect(refusals, lambda: parse_stacks(format, stacks)) if fields.read("stacks") else None
    bitting = collect(refusals, lambda: parse_any_bitting(format, key)) if fields.read("key") else None
    if pinning is None or bitting is None or len(refusals):
        raise Refused(refusals)
    return _turned(pinning, turn(pinning, bitting, blank))


def _turned(pinning: Pinning, turning: Turning) -> Answer:
    found = {"operates": turning.operates, "withdraws": turning.withdraws, "binds": list(turning.binds)}
    return found | ({"steps": list(turning.steps)} if pinning.format.control_kind == "screw" else {})


def _decode(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "stacks", "measured_in", "tolerance_in"))
    format = format_of(fields)
    stacks, measured = fields.optional("stacks"), fields.optional("measured_in")
    if format is None:
        raise Refused(refusals)
    reading = collect(refusals, lambda: read_stacks(format, stacks, measured, _tolerance(fields)))
    if reading is None or len(refusals):
        raise Refused(refusals)
    return {
        "operating": [list(cuts) for cuts in reading.operating],
        "control": None if reading.control is None else reading.control.text,
        "accepts": reading.accepts,
        "doubts": [_doubt(doubt) for doubt in (*reading.doubts, *reading.open_control)],
    }


def _tolerance(fields: Fields) -> object:
    return fields.optional("tolerance_in") if fields.has("tolerance_in") else DEFAULT_TOLERANCE_IN


def _doubt(doubt: Doubt) -> Answer:
    return {
        "position": doubt.position,
        "what": doubt.what,
        "alternatives": [
            _stack(alternative) if isinstance(alternative, PinStack) else alternative
            for alternative in doubt.alternatives
        ],
        "message": doubt.message,
    }


def _read_key(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "root_depths_in", "tolerance_in"))
    format = format_of(fields)
    depths = fields.value("root_depths_in")
    if format is None or not fields.read("root_depths_in"):
        raise Refused(refusals)
    reading = collect(refusals, lambda: read_key(format, depths, _tolerance(fields)))
    if reading is None or len(refusals):
        raise Refused(refusals)
    return {
        "bitting": None if reading.bitting is None else reading.bitting.text,
        "doubts": [_doubt(doubt) for doubt in reading.doubts],
    }


def _repin(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "now", "target"))
    format = format_of(fields)
    given = {name: fields.value(name) for name in ("now", "target")}
    if format is None:
        raise Refused(refusals)
    now, target = (_core(fields, name, stacks, format) for name, stacks in given.items())
    if now is None or target is None or len(refusals):
        raise Refused(refusals)
    change = repin(now, target)
    return {
        "chambers": [_chamber(chamber) for chamber in change.chambers],
        "untouched": list(change.untouched),
        "add": _counted(change.add),
        "remove": _counted(change.remove),
    }


def _core(fields: Fields, name: str, stacks: object, format: CoreFormat) -> Pinning | None:
    """One of two cores in an input; what is wrong with it says which of them it is."""
    if not fields.read(name):
        return None
    return told_apart(fields.refusals, name, lambda: parse_stacks(format, stacks))


def _chamber(chamber: ChamberChange) -> Answer:
    parts = {name: getattr(chamber, name) for name in ("keep", "remove", "lift", "add", "insert")}
    listed = {name: [{"role": role, "size": size} for role, size in pins] for name, pins in parts.items()}
    return {"position": chamber.position} | listed


def _counted(pins: Counter[Pin]) -> list[Answer]:
    rows = sorted(pins.items(), key=lambda row: (ROLES.index(row[0][0]), row[0][1]))
    return [{"role": role, "size": size, "count": count} for (role, size), count in rows]


def _formats(source: object) -> Answer:
    refusals = Refusals()
    Fields(source, "input", refusals, ())
    refusals.stop()
    return {"formats": [to_mapping(format) for format in load_all()]}


FORMS: dict[str, Callable[[object], Answer]] = {
    "pin": _pin,
    "turn": _turn,
    "decode": _decode,
    "read": _read_key,
    "repin": _repin,
    "formats": _formats,
    "count": count_form,
    "progress": progress_form,
    "audit": audit_form,
    "reconstruct": reconstruct_form,
    "exposure": exposure_form,
    "suggest": suggest_form,
    "solve": solve_form,
}
