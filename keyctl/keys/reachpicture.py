"""Who can open a door and by which key, and the other way round, in layers from left to right.

The pins decide: lines between cores and keys are turns. Copies are those that the person may look at.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.openings import turns_of_key
from keyctl.cores.selectors import Opener, openers_by
from keyctl.keys.reach import MOST, Had, Reach, reach_of
from keyctl.lib.layers import Edge, Layers, Node, arrange
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

REST = "rest"
# A key's own list of doors follows at once.
MOST_CORES = 12


@dataclass(frozen=True)
class Row:
    """One line of the table that says the same: a key on a core, and who has copies of the key."""

    opener: Opener
    had: tuple[Had, ...]
    beyond: int


@dataclass(frozen=True)
class ReachPicture:
    layers: Layers
    rows: tuple[Row, ...]
    further_keys: int = 0
    further_doors: int = 0
    further_ends: int = 0


def door_picture(actor: User, door: Door, openers: Sequence[Opener]) -> ReachPicture | None:
    """Door, cores, keys, and who has copies; nothing where no key does anything to it."""
    if not openers:
        return None
    keys = list({opener.symbol.pk: opener.symbol for opener in sorted(openers, key=_importance)}.values())
    shown = {key.pk: key for key in keys[:MOST]}
    listed = [opener for opener in openers if opener.symbol.pk in shown]
    reach = reach_of(actor, shown)
    further = len(keys) - len(shown)
    nodes = [_door_node(door, 0), *_core_nodes(openers, 1), *(_key_node(key, 2) for key in shown.values())]
    nodes += [*_rest(2, _("Key"), _more_keys(further), further, "#openers"), *_end_nodes(reach, 3)]
    edges = [*(Edge(_id(door), _id(core)) for core in _cores(openers)), *map(_turn_edge, listed)]
    beyond = {opener.core.pk: opener for opener in openers if opener.symbol.pk not in shown}
    edges += [Edge(_id(opener.core), f"{REST}2", "broken") for opener in beyond.values()]
    edges += _copy_edges(reach, 3, keys_first=True)
    heads = [_("Door"), _("Core"), _("Key"), *([_("Who has copies")] if reach.ends else [])]
    return ReachPicture(
        arrange(heads, nodes, edges), _rows(listed, reach), further_keys=further, further_ends=reach.further
    )


def key_picture(actor: User, symbol: KeySymbol, door_count: int) -> ReachPicture | None:
    """Who has copies, the key, the cores that it turns or takes out, and their doors.

    A master turns very many cores: those drawn are the first that its index finds.
    """
    turns = turns_of_key(actor, symbol).order_by("core_id")[:MOST_CORES]
    listed = sorted(openers_by(turns, {}), key=lambda opener: str(opener.housing.door))
    if not listed:
        return None
    reach = reach_of(actor, [symbol.pk])
    doors = list({opener.housing.door.pk: opener.housing.door for opener in listed}.values())
    further = max(0, door_count - len(doors)) if len(listed) == MOST_CORES else 0
    left = 1 if reach.ends else 0
    nodes = [*_end_nodes(reach, 0), _key_node(symbol, left), *_core_nodes(listed, left + 1)]
    nodes += [*(_door_node(door, left + 2) for door in doors)]
    nodes += _rest(left + 1, _("Doors"), _more_doors(further), further, "#doors")
    edges = [*_copy_edges(reach, 0, keys_first=False)]
    edges += [Edge(_id(symbol), _id(opener.core), _style(opener)) for opener in listed]
    edges += [Edge(_id(symbol), f"{REST}{left + 1}")] if further else []
    edges += [Edge(_id(opener.core), _id(opener.housing.door)) for opener in listed]
    heads = [*([_("Who has copies")] if reach.ends else []), _("Key"), _("Core"), _("Door")]
    return ReachPicture(
        arrange(heads, nodes, edges), _rows(listed, reach), further_doors=further, further_ends=reach.further
    )


def _importance(opener: Opener) -> tuple[bool, int, str]:
    """What is planned comes first, masters before change keys."""
    level = opener.symbol.level
    return not opener.is_planned, 99 if level is None else level, str(opener.symbol)


def _id(thing: Door | Core | KeySymbol) -> str:
    return str(thing.pk)


def _cores(openers: Sequence[Opener]) -> list[Core]:
    return list({opener.core.pk: opener.core for opener in openers}.values())


def _style(opener: Opener) -> str:
    """Planned, not in the plan, or only taking the core out."""
    if not opener.is_planned:
        return "broken"
    return "plain" if opener.operates else "dotted"


def _turn_edge(opener: Opener) -> Edge:
    return Edge(_id(opener.core), _id(opener.symbol), _style(opener))


def _copy_edges(reach: Reach, layer: int, *, keys_first: bool) -> list[Edge]:
    pairs = [(str(each.symbol), each.end.key) for each in reach.had]
    pairs += [(str(symbol), f"{REST}{layer}") for symbol in reach.beyond] if reach.further else []
    return [Edge(key, end) if keys_first else Edge(end, key) for key, end in pairs]


def _door_node(door: Door, layer: int) -> Node:
    return Node(
        _id(door),
        layer,
        _("Door"),
        str(door),
        Truncator(door.name).chars(13),
        reverse("cores:door", args=[door.pk]),
    )


def _core_nodes(openers: Sequence[Opener], layer: int) -> Iterator[Node]:
    for core in _cores(openers):
        yield Node(_id(core), layer, _("Core"), str(core), "", reverse("cores:detail", args=[core.pk]))


def _key_node(symbol: KeySymbol, layer: int) -> Node:
    note = _("control") if symbol.is_control else _("master") if symbol.is_master else ""
    return Node(_id(symbol), layer, _("Key"), str(symbol), note, reverse("cores:symbol", args=[symbol.pk]))


def _end_nodes(reach: Reach, layer: int) -> Iterator[Node]:
    counts: dict[str, int] = {}
    for each in reach.had:
        counts[each.end.key] = counts.get(each.end.key, 0) + each.count
    for end in reach.ends:
        note = ngettext("{count} copy", "{count} copies", counts[end.key]).format(count=counts[end.key])
        yield Node(end.key, layer, end.kind, end.name, note, end.url)
    words = ngettext("and {count} more", "and {count} more", reach.further).format(count=reach.further)
    yield from _rest(layer, _("Holders and cabinets"), words, reach.further, reverse("keys:desk"))


def _rest(layer: int, sign: str, words: str, count: int, url: str) -> list[Node]:
    return [Node(f"{REST}{layer}", layer, sign, words, "", url, is_rest=True)] if count else []


def _more_keys(count: int) -> str:
    return ngettext("and {count} more key", "and {count} more keys", count).format(count=count)


def _more_doors(count: int) -> str:
    return ngettext("and {count} more door", "and {count} more doors", count).format(count=count)


def _rows(openers: Sequence[Opener], reach: Reach) -> tuple[Row, ...]:
    return tuple(
        Row(
            opener,
            tuple(each for each in reach.had if each.symbol == opener.symbol.pk),
            reach.beyond.get(opener.symbol.pk, 0),
        )
        for opener in openers
    )
