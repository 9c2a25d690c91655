"""Taking lost keys out of the cores: nobody's other key changes, and whoever held the lost one has none."""

from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.lib.numbers import as_number
from keyctl.losses.planning.ground import Ground, Tree
from keyctl.losses.planning.scope import Place, Scope
from keyctl.losses.planning.ways import TAKE_OUT, NotPossible, Ref, Way, line_of

LETS_IN = gettext_lazy(
    "The keys that stay let the lost cuts into {cores} of the cores anyhow, by their pins."
)
NO_PINS = gettext_lazy(
    "{cores} of the cores cannot be pinned without the lost cuts: the kit has no pins for that, no key "
    "would be left, or the control key goes by these cuts."
)
NOT_MEANT = gettext_lazy(
    "The lost keys are not meant to turn these cores: there are no cuts of theirs to take out."
)


def take_out(ground: Ground, scope: Scope) -> Way:
    """Only where the keys that stay do not let the lost one in. A lost master is taken out of all or none."""
    way = Way(TAKE_OUT, scope)
    for system, places in scope.by_system().items():
        ground.watch()
        tree = ground.tree(system)
        try:
            _take_out_of(ground, way, tree, places)
        except NotPossible as refused:
            way.why_not += refused.sentences
    if not way.keyed and not way.why_not:
        way.why_not = (str(NOT_MEANT),)
    return way


def _take_out_of(ground: Ground, way: Way, tree: Tree, places: list[Place]) -> None:
    lines = {place.core: line_of(tree, place) for place in places}
    meant = {core: line for core, line in lines.items() if line & ground.lost}
    lost = {key for line in meant.values() for key in line & ground.lost}
    if not meant:
        return
    is_whole = any(tree.nodes[key].is_master for key in lost)
    if is_whole and not way.scope.is_all:
        raise NotPossible(_("A master is taken out of all cores below it or out of none."))
    planned = _planned(ground, tree, {core: line - ground.lost for core, line in meant.items()})
    proven = ground.world(tree.system.pk).prove(planned)
    good = {core: rekeyed for core, rekeyed in planned.items() if core not in proven.faults}
    if not good or (is_whole and len(good) < len(meant)):
        raise NotPossible(*_reasons(len(meant) - len(planned), len(planned) - len(good)))
    for place in places:
        if place.core in good:
            way.keyed[place.core] = _keyed(ground, tree, place)
            way.pins[place.core] = good[place.core].pins
    if way.scope.is_all and len(good) == len(meant):
        way.retired |= lost


def _reasons(unpinned: int, let_in: int) -> list[str]:
    told = [(NO_PINS, unpinned), (LETS_IN, let_in)]
    return [str(words).format(cores=as_number(number)) for words, number in told if number]


def _planned(ground: Ground, tree: Tree, lines: dict[UUID, set[UUID]]) -> dict[UUID, engine.Rekeyed]:
    """Cores to which no key would be left, or that cannot be pinned so, are none."""
    world, found = ground.world(tree.system.pk), {}
    for core, line in lines.items():
        pins = world.pin(line) if line else None
        if pins is not None:
            found[core] = engine.Rekeyed(frozenset(line), pins)
    return found


def _keyed(ground: Ground, tree: Tree, place: Place) -> tuple[Ref, ...]:
    """Without the lost keys; for each the key right above it, where no other brings that in."""
    found: list[Ref] = [key for key in place.keyed if key not in ground.lost]
    brought = {key for kept in place.keyed if kept in found for key in tree.line(kept)}
    for lost in place.keyed:
        above = next((key for key in tree.line(lost) if key not in ground.lost), None)
        if above is not None and above not in brought:
            found.append(above)
            brought |= set(tree.line(above))
    return tuple(found)
