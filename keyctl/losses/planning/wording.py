"""What a plan says: what changes for whom, and what stays open to the lost key."""

from collections import Counter
from collections.abc import Iterable

from keyctl.losses.planning.scope import SCOPES, Place
from keyctl.losses.planning.ways import NEW_PART, REPLACE, TAKE_OUT, Way
from keyctl.places.models import Door

KINDS = {
    REPLACE: "Another key in the place of the lost one",
    TAKE_OUT: "Take the lost key out of the cores",
    NEW_PART: "New keys for the whole part",
}
CHANGE_KEY = "Another change key for these doors"
CLASSES = dict(Door.DoorClass.choices)


def label_of(way: Way, *, is_change: bool) -> str:
    kind = CHANGE_KEY if is_change and way.kind == REPLACE else KINDS[way.kind]
    return f"{kind}: {SCOPES[way.scope.name]}"


def changes_of(way: Way, names: dict[str, str], copies: int, called_back: int) -> list[str]:
    """In sentences; ``names`` are the symbols of replaced keys by the names of those to come."""
    told = list(way.told)
    if way.kind == REPLACE:
        told += [f"{names[key.ref]} becomes {key.symbol}." for key in way.coming]
        told.append("Every other key stays as it is and turns what it turned.")
    if way.kind == TAKE_OUT:
        told.append("No other key changes. Who had the lost key has none to these doors until given others.")
    if way.kind == NEW_PART:
        told.append(f"{len(way.coming):,} keys are made anew, from the master down to its change keys.")
        told.append("Everybody with a key to this part gets another one.")
    if way.new_system is not None:
        told.append(
            "A new system with a control key of its own: the old control key takes the old cores out, the "
            "new one puts the new ones in."
        )
    if copies or called_back:
        told.append(f"{_copies(copies)} to cut; {_copies(called_back)} to call back and destroy.")
    if way.called_back:
        told.append(
            f"In {way.called_back:,} cores an old key turns until its copies are called back and destroyed."
        )
    return told


def stays_of(way: Way, *, is_retired: bool) -> list[str]:
    told = ["Until a door is done, the lost key still turns it."]
    if left := way.open_places:
        told.append(f"Stays open to the lost key: {exposed_words(left)}.")
        if due := sum(place.is_due for place in left):
            told.append(f"Of them {'is' if due == 1 else 'are'} due: {due:,}.")
    else:
        told.append("After the last door the lost key turns nothing.")
    if not is_retired:
        told.append("The lost key is not retired: other doors still go by it.")
    return told


def exposed_words(places: Iterable[Place]) -> str:
    """By class, the most severe first; then the cores that are in no door."""
    counted = Counter(place.door_class for place in places)
    order = ["critical", "restricted", "ordinary", ""]
    return ", ".join(_counted(counted[name], name) for name in order if counted[name])


def _counted(number: int, door_class: str) -> str:
    if not door_class:
        return f"{number:,} {'core' if number == 1 else 'cores'} in no door"
    return f"{number:,} {CLASSES[door_class].lower()} {'door' if number == 1 else 'doors'}"


def _copies(number: int) -> str:
    return f"{number:,} {'copy' if number == 1 else 'copies'}"
