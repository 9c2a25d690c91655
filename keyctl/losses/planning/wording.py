"""What a plan says: what changes for whom, and what stays open to the lost key."""

from collections import Counter
from collections.abc import Iterable

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.lib.language import in_sentence
from keyctl.lib.numbers import as_number
from keyctl.losses.planning.scope import SCOPES, Place
from keyctl.losses.planning.ways import NEW_PART, REPLACE, TAKE_OUT, Way
from keyctl.places.models import Door

KINDS = {
    REPLACE: gettext_lazy("Another key in the place of the lost one"),
    TAKE_OUT: gettext_lazy("Take the lost key out of the cores"),
    NEW_PART: gettext_lazy("New keys for the whole part"),
}
CHANGE_KEY = gettext_lazy("Another change key for these doors")


def label_of(way: Way, *, is_change: bool) -> str:
    kind = CHANGE_KEY if is_change and way.kind == REPLACE else KINDS[way.kind]
    return f"{kind}: {SCOPES[way.scope.name]}"


def changes_of(way: Way, names: dict[str, str], copies: int, called_back: int) -> list[str]:
    """In sentences; ``names`` are the symbols of replaced keys by the names of those to come."""
    told = list(way.told)
    if way.kind == REPLACE:
        told += [f"{names[key.ref]} becomes {key.symbol}." for key in way.coming]
        told.append(_("Every other key stays as it is and turns what it turned."))
    if way.kind == TAKE_OUT:
        told.append(
            _("No other key changes. Who had the lost key has none to these doors until given others.")
        )
    if way.kind == NEW_PART:
        told.append(
            _("{coming} keys are made anew, from the master down to its change keys.").format(
                coming=as_number(len(way.coming))
            )
        )
        told.append(_("Everybody with a key to this part gets another one."))
    if way.new_system is not None:
        told.append(
            _(
                "A new system with a control key of its own: the old control key takes the old cores out, "
                "the new one puts the new ones in."
            )
        )
    if copies or called_back:
        told.append(
            _("{copies} to cut; {copies_2} to call back and destroy.").format(
                copies=_copies(copies), copies_2=_copies(called_back)
            )
        )
    if way.called_back:
        told.append(
            _(
                "In {called_back} cores an old key turns until its copies are called back and destroyed."
            ).format(called_back=as_number(way.called_back))
        )
    return told


def stays_of(way: Way, *, is_retired: bool) -> list[str]:
    told = [_("Until a door is done, the lost key still turns it.")]
    if left := way.open_places:
        told.append(
            _("Stays open to the lost key: {exposed_words}.").format(exposed_words=exposed_words(left))
        )
        if due := sum(place.is_due for place in left):
            told.append(
                ngettext("Of them is due: {due}.", "Of them are due: {due}.", due).format(due=as_number(due))
            )
    else:
        told.append(_("After the last door the lost key turns nothing."))
    if not is_retired:
        told.append(_("The lost key is not retired: other doors still go by it."))
    return told


def exposed_words(places: Iterable[Place]) -> str:
    """By class, the most severe first; then the cores that are in no door."""
    counted = Counter(place.door_class for place in places)
    order = ["critical", "restricted", "ordinary", ""]
    return ", ".join(_counted(counted[name], name) for name in order if counted[name])


def _counted(number: int, door_class: str) -> str:
    if not door_class:
        return ngettext("{count} core in no door", "{count} cores in no door", number).format(
            count=as_number(number)
        )
    kind = in_sentence(Door.DoorClass(door_class).label)
    return ngettext("{count} {kind} door", "{count} {kind} doors", number).format(
        count=as_number(number), kind=kind
    )


def _copies(number: int) -> str:
    return ngettext("{count} copy", "{count} copies", number).format(count=as_number(number))
