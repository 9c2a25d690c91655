"""The dry run: a list against itself, the system it goes into, and the cores that are pinned already."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from django.utils.translation import gettext, ngettext

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.turning import KeyFamily, pins_of
from keyctl.inherited.faults import (
    Fault,
    depths_of,
    error,
    faults_among,
    faults_of_row,
    faults_of_tree,
    lines_of,
    warning,
)
from keyctl.inherited.models import BittingList
from keyctl.inherited.rows import ListRow
from keyctl.lib.errors import Refused
from keyctl.lib.paging import by_identifier
from keyctl.lib.tags import clean_tag
from keyctl.places.access import visible_sites
from keyctl.systems.access import visible_systems
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import line_of
from keyctl.systems.services import bitting_of, design_of, is_designed

Kind = KeySymbol.Kind
Step = Callable[[int, str], None]
CORES_AT_ONCE = 500
TAG_LENGTH = 12
OF_STEPS = 5


@dataclass
class Ground:
    """What the list meets: the system's own keys, and those of others that enter the same cores."""

    listed: BittingList
    actor: User
    format: engine.CoreFormat
    stored: dict[str, KeySymbol] = field(default_factory=dict)
    bittings: dict[str, str] = field(default_factory=dict, repr=False)
    foreign: dict[str, KeySymbol] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, listed: BittingList, actor: User) -> "Ground":
        """As far as the actor may look: a list must not be a way to ask for the keys of other sites."""
        ground = cls(listed, actor, engine.load_format(listed.format_id))
        symbols = ground.family.symbols().filter(system__in=visible_systems(actor))
        for symbol in symbols.select_related("system"):
            text = bitting_of(symbol)
            if listed.system_id == symbol.system_id:
                ground.stored[symbol.symbol] = symbol
                ground.bittings[symbol.symbol] = text
            elif not symbol.is_control:
                ground.foreign[text] = symbol
        return ground

    @property
    def family(self) -> KeyFamily:
        return KeyFamily(self.listed.format_id, self.listed.keyway)

    def cores(self) -> Iterator[tuple[Core, engine.Pinning]]:
        """The pinned cores at the actor's sites that these keys enter, with their pins."""
        pinned = self.family.pinned().filter(site__in=visible_sites(self.actor)).select_related("system")
        for core in by_identifier(pinned, CORES_AT_ONCE):
            yield core, pins_of(core)

    @property
    def levels(self) -> int:
        system = self.listed.system
        return system.levels if system else engine.MOST_LEVELS

    @property
    def control(self) -> str | None:
        """The symbol of the system's control key."""
        return next((name for name, symbol in self.stored.items() if symbol.is_control), None)


def check(listed: BittingList, rows: Sequence[ListRow], actor: User, step: Step) -> list[Fault]:
    """Every conflict of every row, in the order of the rows."""
    ground = Ground.of(listed, actor)
    keys = [row for row in rows if not row.names_core_only]
    step(0, gettext("Reading the rows"))
    faults = [fault for row in rows for fault in faults_of_row(row, ground.format)]
    faults += faults_among(keys)
    step(1, gettext("Comparing with the system"))
    faults += _against_system(ground, keys)
    faults += faults_of_tree(keys, ground.stored, ground.levels)
    faults += _of_cores(ground, rows)
    broken = {fault.row for fault in faults if fault.is_error}
    sound = [row for row in keys if row.number not in broken]
    step(2, gettext("Comparing with masters and the array"))
    faults += _against_masters(ground, sound)
    faults += _against_array(ground, sound)
    step(3, gettext("Trying the keys in the cores that are pinned"))
    faults += _in_stored_cores(ground, sound)
    step(4, gettext("Trying all keys in the cores to come"))
    faults += _in_planned_cores(ground, sound)
    step(OF_STEPS, gettext("Checked"))
    return sorted(faults, key=lambda fault: (fault.row, not fault.is_error, fault.place))


def _against_system(ground: Ground, rows: Sequence[ListRow]) -> Iterator[Fault]:
    code = ground.listed.target
    known = {(ground.stored[name].is_control, text): name for name, text in ground.bittings.items()}
    for row in rows:
        if row.symbol in ground.stored:
            yield error(
                row, "symbol", gettext("{system} has a key of this symbol already.").format(system=code)
            )
        if row.kind == Kind.CONTROL and ground.control:
            yield error(row, "symbol", gettext("{system} has a control key already.").format(system=code))
        is_control = row.kind == Kind.CONTROL
        if row.bitting and (same := known.get((is_control, row.bitting))):
            yield error(
                row,
                "bitting",
                gettext("It is cut like {key}, which {system} has already.").format(key=same, system=code),
            )
        if row.bitting and (other := known.get((not is_control, row.bitting))):
            if is_control:
                sentence = gettext("It is cut like {key}, an operating key of {system}.")
            else:
                sentence = gettext("It is cut like {key}, the control key of {system}.")
            yield error(row, "bitting", sentence.format(key=other, system=code))
        if row.bitting in ground.foreign:
            found = ground.foreign[row.bitting]
            sentence = gettext("It is cut like {key} of {system}, which enters too.")
            yield warning(row, "bitting", sentence.format(key=found, system=found.system.code))


def _of_cores(ground: Ground, rows: Sequence[ListRow]) -> Iterator[Fault]:
    """Cores named in the list: keyed to keys that are there, and not on record yet."""
    given = {row.symbol for row in rows if not row.names_core_only} | set(ground.stored)
    tags = set(Core.objects.filter(site=ground.listed.site).values_list("tag", flat=True))
    for row in rows:
        if row.names_core_only and row.symbol not in given:
            sentence = gettext("{key} is neither in the list nor in the system.")
            yield error(row, "symbol", sentence.format(key=row.symbol or gettext("This key")))
        if row.core and row.kind == Kind.CONTROL:
            yield error(row, "core", gettext("A core is keyed to operating keys, not to the control key."))
        if len(clean_tag(row.core)) == TAG_LENGTH and clean_tag(row.core) in tags:
            yield warning(
                row, "core", gettext("A core with this tag is on record already. It is left as it is.")
            )


def _against_masters(ground: Ground, rows: Sequence[ListRow]) -> Iterator[Fault]:
    bittings = ground.bittings | {row.symbol: row.bitting for row in rows}
    for row in rows:
        if row.parent not in bittings or row.kind == Kind.CONTROL:
            continue
        off = engine.positions_off_step(ground.format.id, row.bitting, bittings[row.parent])
        if off:
            sentence = ngettext(
                "Position {positions}: its cuts and those of {master} are no multiple of {step} apart, "
                "so no core takes both.",
                "Positions {positions}: its cuts and those of {master} are no multiple of {step} apart, "
                "so no core takes both.",
                len(off),
            )
            said = sentence.format(positions=_listed(off), master=row.parent, step=ground.format.step)
            yield error(row, "bitting", said)


def _against_array(ground: Ground, rows: Sequence[ListRow]) -> Iterator[Fault]:
    system = ground.listed.system
    if system is None or not is_designed(system):
        return
    facts = design_of(system).parameters
    master = engine.read_key(system.format_id, facts["master"]).cuts
    allowed = [{own, *column} for own, column in zip(master, facts["array"], strict=True)]
    for row in rows:
        cuts = engine.read_key(system.format_id, row.bitting).cuts
        off = [n for n, (cut, column) in enumerate(zip(cuts, allowed, strict=True), 1) if cut not in column]
        if off and row.kind != Kind.CONTROL:
            sentence = ngettext(
                "It is outside the array of {system} in position {positions}.",
                "It is outside the array of {system} in positions {positions}.",
                len(off),
            )
            yield warning(row, "bitting", sentence.format(system=system.code, positions=_listed(off)))


def _listed(places: Sequence[int]) -> str:
    return ", ".join(map(str, places))


def _in_stored_cores(ground: Ground, rows: Sequence[ListRow]) -> Iterator[Fault]:
    """No core is keyed to a key that is not there yet, so whatever these keys do to one is not meant."""
    operating = {row.symbol: row for row in rows if row.kind != Kind.CONTROL}
    if not operating:
        return
    keys = engine.key_side(
        ground.format.id,
        {name: engine.read_key(ground.format.id, row.bitting) for name, row in operating.items()},
    )
    turned: dict[str, list[Core]] = defaultdict(list)
    withdrawn: dict[str, list[Core]] = defaultdict(list)
    cores = ground.cores()
    while batch := list(islice(cores, CORES_AT_ONCE)):
        by_pk = {core.pk: core for core, _ in batch}
        for core, key, operates, withdraws in engine.turning(keys, {core.pk: pins for core, pins in batch}):
            if operates:
                turned[key].append(by_pk[core])
            if withdraws:
                withdrawn[key].append(by_pk[core])
    for found, sentence in (
        (turned, gettext("It turns {cores}, keyed to other keys.")),
        (withdrawn, gettext("It takes out {cores}, keyed to other keys.")),
    ):
        for name, its in found.items():
            yield warning(operating[name], "bitting", sentence.format(cores=_cores(its)))


def _cores(found: Sequence[Core]) -> str:
    if len(found) == 1:
        return gettext("core {core}").format(core=found[0])
    return ngettext("core {core} and {count} more", "core {core} and {count} more", len(found) - 1).format(
        core=found[0], count=len(found) - 1
    )


def _in_planned_cores(ground: Ground, rows: Sequence[ListRow]) -> Iterator[Fault]:
    """Each change key's core, pinned as it would be: whether it can be, and which other keys turn it."""
    given = {row.symbol: row for row in rows}
    pinned, lines, control = {}, _lines(ground, rows), _control(ground, rows)
    if ground.format.sleeve and control is None:
        for row in rows[:1]:
            yield warning(
                row, "symbol", gettext("Without a control key no core of the list can be pinned: add it.")
            )
        return
    for symbol, line in lines.items():
        try:
            pinned[symbol] = engine.pin(
                ground.format.id, [_text(ground, given, name) for name in line], control
            )
        except Refused:
            message = gettext("No core can be pinned for it and its masters with the kit.")
            yield warning(given[symbol], "bitting", message)
    texts = {name: text for name, text in ground.bittings.items() if not ground.stored[name].is_control}
    texts |= {row.symbol: row.bitting for row in rows if row.kind != Kind.CONTROL}
    keys = engine.key_side(
        ground.format.id, {n: engine.read_key(ground.format.id, t) for n, t in texts.items()}
    )
    others: dict[str, list[str]] = defaultdict(list)
    for core, key, operates, _ in engine.turning(keys, pinned) if pinned else ():
        if operates and key not in lines[core]:
            others[core].append(key)
    for symbol, names in others.items():
        yield warning(given[symbol], "bitting", _turned_by(names))


def _turned_by(keys: Sequence[str]) -> str:
    if len(keys) == 1:
        return gettext("Its core is turned by {key}, which nobody means.").format(key=keys[0])
    return ngettext(
        "Its core is turned by {key} and {count} more, which nobody means.",
        "Its core is turned by {key} and {count} more, which nobody means.",
        len(keys) - 1,
    ).format(key=keys[0], count=len(keys) - 1)


def _lines(ground: Ground, rows: Sequence[ListRow]) -> dict[str, list[str]]:
    """By change key, itself and every master above it; left out where one of them is not sound."""
    given = {row.symbol for row in rows}
    found = {}
    above = lines_of(rows)
    parents = {row.parent for row in rows}
    for row in rows:
        if row.symbol in parents or row.kind in {Kind.CONTROL, Kind.MASTER}:
            continue
        line = [row.symbol, *above.get(row.symbol, [])]
        if line[-1] in ground.stored:
            line += [key.symbol for key in line_of(ground.stored[line[-1]])[1:]]
        if all(name in given or name in ground.stored for name in line):
            found[row.symbol] = line
    return found


def _text(ground: Ground, given: Mapping[str, ListRow], name: str) -> str:
    return given[name].bitting if name in given else ground.bittings[name]


def _control(ground: Ground, rows: Sequence[ListRow]) -> str | None:
    """The list's control key, or the system's; where neither has one, the core cannot be pinned yet."""
    if not ground.format.sleeve:
        return None
    listed = next((row.bitting for row in rows if row.kind == Kind.CONTROL), None)
    return listed or (ground.bittings[ground.control] if ground.control else None)


def level_count(rows: Sequence[ListRow], stored: Mapping[str, KeySymbol]) -> int:
    """How many levels the list's keys stand on."""
    depths = [depth for depth in depths_of(rows, stored).values() if depth is not None]
    return max(depths, default=0) + 1


def core_labels(rows: Sequence[ListRow]) -> dict[str, list[str]]:
    """By the name a list gives a core, the symbols of the keys it is keyed to, in the list's order."""
    labels: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        if row.core and row.symbol not in labels[row.core]:
            labels[row.core].append(row.symbol)
    return dict(labels)


__all__ = ["OF_STEPS", "Ground", "check", "core_labels", "level_count"]
