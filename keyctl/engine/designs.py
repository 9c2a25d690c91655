"""The design of a key system: a top master, a control key and the tree of keys below."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from random import Random
from typing import Any, Self

from django.utils.translation import gettext, gettext_lazy, ngettext

from keyctl.engine.formats import load_format
from keyctl.engine.refusals import refusing
from keyctl.lib.errors import Refused
from keyctl.lib.numbers import as_number
from pinning.allotting import Groups, allot, least_rooms
from pinning.bittings import Bitting, parse_bitting
from pinning.controls import make_room, propose_control
from pinning.errors import Refusal
from pinning.errors import Refused as RefusedByPinning
from pinning.formats import CoreFormat
from pinning.hierarchy import Hierarchy, allocate
from pinning.masters import propose_master
from pinning.pages import Layout, layout
from pinning.progression import Progression, key_bitting_array
from pinning.rules import Rules
from pinning.symbols import direct_change, key_symbol

# With an adjacent-cut limit some masters leave less room than others: as many are drawn before giving up.
MOST_DRAWS = 30


@dataclass(frozen=True)
class DesignedKey:
    """One key of a designed tree; its path counts from the top master, which has the empty path."""

    symbol: str
    path: tuple[int, ...]
    bitting: str = field(repr=False)
    room: int | None = None


@dataclass(frozen=True)
class Room:
    """How many keys fit right below each key of the level above: least, most, and in all."""

    level: int
    least: int
    most: int
    all: int


@dataclass(frozen=True)
class Wanted:
    """What somebody asks of a design. As secret as a bitting where it names the master or the array.

    ``needs`` is how many keys stand below each key of the level above; ``groups`` the positions of each
    level where they are chosen by hand, each in its sequence; ``constants`` per level how many are held in
    turn. By the method "total" every position is progressed, by "partial" no more than are needed or named.
    """

    format_id: str
    needs: tuple[int, ...]
    method: str = "total"
    groups: tuple[tuple[int, ...], ...] | None = field(default=None, repr=False)
    constants: tuple[int, ...] | None = None
    rules: dict[str, int] = field(default_factory=dict)
    master: str | None = field(default=None, repr=False)
    array: tuple[str, ...] | None = field(default=None, repr=False)
    parity: str | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Design:
    """A top master, a control key where the format has one, and the tree below."""

    tree: Hierarchy = field(repr=False)
    control: str | None = field(repr=False)

    @classmethod
    @refusing(gettext_lazy("No key system can be designed from these figures."))
    def draw(cls, format_id: str, groups: Sequence[Sequence[int]], rng: Random) -> Self:
        """Draw a top master and a control key, and deal the positions out to the levels."""
        chosen = load_format(format_id)
        master = propose_master(chosen, rng)
        array = make_room(chosen, master, rng) if chosen.sleeve else None
        return cls._with_control(allocate(chosen, master, groups, array), rng)

    @classmethod
    @refusing(gettext_lazy("No key system can be designed from these figures."))
    def work_out(cls, wanted: Wanted, rng: Random) -> Self:
        """The first design that gives every level the room it needs, of as many masters as are drawn."""
        chosen = load_format(wanted.format_id)
        is_even = chosen.macs is None and not wanted.rules  # then every master leaves the same room
        for _ in range(0 if is_even or wanted.master else MOST_DRAWS - 1):
            try:
                return cls._attempt(wanted, rng, explain=False)
            except RefusedByPinning as refused:
                if any(refusal.code not in {"needs", "control_unbuildable"} for refusal in refused.refusals):
                    raise
        return cls._attempt(wanted, rng)

    @classmethod
    def _attempt(cls, wanted: Wanted, rng: Random, *, explain: bool = True) -> Self:
        chosen, rules = load_format(wanted.format_id), Rules(**wanted.rules)
        master = _master(wanted, chosen, rng)
        array: Sequence[Sequence[int]] | None = None
        if wanted.array is not None:
            array = _columns(chosen, wanted.array)
        if chosen.sleeve:
            array = make_room(chosen, master, rng, array)
        groups = wanted.groups
        if groups is None:
            needed = allot(chosen, master, wanted.needs, array, rules, explain=explain)
            groups = _filled(wanted, needed, chosen)
        tree = allocate(chosen, master, groups, array, constants=wanted.constants, rules=rules)
        _refuse_crowding(tree, wanted.needs)
        return cls._with_control(tree, rng)

    @classmethod
    def _with_control(cls, tree: Hierarchy, rng: Random) -> Self:
        if not tree.format.sleeve:
            return cls(tree, None)
        return cls(tree, propose_control(tree.format, tree.master, rng, tree.array).text)

    @classmethod
    def of(cls, format_id: str, parameters: dict[str, Any]) -> Self:
        """The same design again from its stored parameters."""
        chosen = load_format(format_id)
        tree = allocate(
            chosen,
            parse_bitting(chosen, parameters["master"]),
            parameters["groups"],
            parameters["array"],
            constants=parameters.get("constants"),
            rules=Rules(**parameters.get("rules", {})),
        )
        return cls(tree, parameters["control"])

    @property
    def parameters(self) -> dict[str, Any]:
        """What every bitting follows from: as secret as the top master."""
        return {
            "master": self.tree.master.text,
            "control": self.control,
            "array": [list(column) for column in self.tree.array],
            "groups": [list(group) for group in self.tree.groups],
            "constants": list(self.tree.constants),
            "rules": asdict(self.tree.rules),
        }

    def keys(self, children: Sequence[int]) -> Iterator[DesignedKey]:
        """The tree from the top down, each key after its master, with ``children[n]`` keys below each key of
        level n and the room below each master.
        """
        levels = len(self.tree.groups) + 1
        for path, key in self.tree.walk(children):
            room = self.tree.children_of(key, len(path)).usable_total if len(path) < levels - 1 else None
            yield DesignedKey(key_symbol(levels, path), path, key.text, room)

    def room_below(self, bitting: str, level: int) -> int | None:
        """How many keys can be cut right below a key of that level; None below the last."""
        if level >= len(self.tree.groups):
            return None
        return self.tree.children_of(parse_bitting(self.tree.format, bitting), level).usable_total

    def rooms(self, children: Sequence[int]) -> list[Room]:
        """The room of each level, exactly, below the keys that will be made."""
        found = least_rooms(self.tree, children)
        return [Room(level, *rooms) for level, rooms in enumerate(found, 1)]

    @property
    def pages(self) -> Layout:
        """How the keys below a master of the last level but one lie on pages."""
        tree = self.tree
        return layout(Progression(tree.format, tree.master, tree.array, tree.groups[-1], tree.rules))

    @property
    def held_back(self) -> int:
        """How many depths of the array were set aside so that a control key can be told apart."""
        full = key_bitting_array(self.tree.format, self.tree.master)
        return sum(map(len, full)) - sum(map(len, self.tree.array))

    @property
    def idle_positions(self) -> int:
        """How many positions no level progresses: they keep the top master's cut in every key."""
        return self.tree.format.positions - sum(map(len, self.tree.groups))


def symbol_below(levels: int, path: Sequence[int], index: int, *, is_master: bool) -> str:
    """The symbol of the next master or change key below the master at the end of a path."""
    return key_symbol(levels, (*path, index)) if is_master else direct_change(levels, path, index)


METHODS = {
    "total": gettext_lazy("Total position progression: every position differs from the top master"),
    "partial": gettext_lazy(
        "Partial position progression: as few positions as needed, the others keep the master's cut"
    ),
    "rotating": gettext_lazy("Rotating constant: so many positions of a level keep the master's cut in turn"),
}


def refuse_wanted(wanted: Wanted) -> None:
    """What can be told before anything is drawn; raises the product's refusal."""
    if wanted.method == "rotating" and not any(wanted.constants or ()):
        raise Refused(gettext("Say for one level at least how many of its positions are held in turn."))
    if wanted.method != "rotating" and any(wanted.constants or ()):
        raise Refused(
            gettext("Positions are held in turn by the rotating constant alone; choose that method.")
        )
    named = {position for group in wanted.groups or () for position in group}
    left = set(range(1, load_format(wanted.format_id).positions + 1)) - named
    if wanted.method == "total" and wanted.groups and left:
        raise Refused(
            ngettext(
                "By total position progression every position belongs to a level; give position {positions}"
                " to one, or choose partial progression.",
                "By total position progression every position belongs to a level; give positions {positions}"
                " to one, or choose partial progression.",
                len(left),
            ).format(positions=", ".join(map(str, sorted(left))))
        )
    if wanted.array is not None and wanted.master is None:
        raise Refused(
            gettext("An array of your own belongs to a top master of your own; give both or neither.")
        )
    if wanted.parity is not None and wanted.master is not None:
        raise Refused(
            gettext("The top master you give has a parity pattern already; leave one of the two empty.")
        )
    if any(wanted.constants or ()) and wanted.groups is None:
        raise Refused(gettext("Choose the positions of each level by hand where some are held in turn."))


def _filled(wanted: Wanted, groups: Groups, chosen: CoreFormat) -> Groups:
    """With total progression the positions that nobody needed go to the last level, as its slowest."""
    found = [list(group) for group in groups]
    if wanted.method == "total":
        used = {position for group in groups for position in group}
        found[-1] += [position for position in range(chosen.positions, 0, -1) if position not in used]
    return tuple(map(tuple, found))


def _refuse_crowding(tree: Hierarchy, needs: Sequence[int]) -> None:
    for level, ((least, _, _), need) in enumerate(zip(least_rooms(tree, needs), needs, strict=True), 1):
        if least < need:
            message = gettext(
                "Level {level} has room for {least} keys below one key above it, not for {need}: ask for"
                " fewer, or give the level more positions."
            ).format(level=level, least=as_number(least), need=as_number(need))
            raise RefusedByPinning([Refusal("needs", message)])


def _master(wanted: Wanted, chosen: CoreFormat, rng: Random) -> Bitting:
    if wanted.master is None:
        return propose_master(chosen, rng, wanted.parity)
    return parse_bitting(chosen, wanted.master, "top master")


def _columns(chosen: CoreFormat, columns: Sequence[str]) -> list[tuple[int, ...]]:
    """An array as its depth symbols, position by position; a wrong symbol is told by its place alone."""
    found = []
    for position, column in enumerate(columns, 1):
        cuts = [chosen.number_of(symbol) for symbol in column]
        if None in cuts:
            message = gettext("Array, position {position}: use the depths {depths}.").format(
                position=position, depths=chosen.depths
            )
            raise RefusedByPinning([Refusal("depth", message, position)])
        found.append(tuple(cut for cut in cuts if cut is not None))
    return found
