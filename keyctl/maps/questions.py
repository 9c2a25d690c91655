"""What the map of the estate can be asked, and the states by which it answers, the gravest first.

A door is in the first state that holds for it. Each has a letter and a pattern of its own, so that nothing is
told by colour alone.
"""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from keyctl.places.roles import Role

# The patterns of templates/maps/_looks.svg.html, from nothing to dense.
Look = str
STAFF_OF_CORES = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)


@dataclass(frozen=True)
class State:
    code: str
    letter: str
    look: Look
    words: str | Promise


@dataclass(frozen=True)
class Question:
    code: str
    label: str | Promise
    explained: str | Promise
    roles: tuple[Role, ...]
    states: tuple[State, ...]

    def state(self, code: str) -> State:
        return next(state for state in self.states if state.code == code)


CORES = Question(
    code="cores",
    label=gettext_lazy("State of the cores"),
    explained=gettext_lazy(
        "A door with several housings shows the gravest of their states. A core is proven where the last "
        "finished proof of the site or of the whole estate tried its pins and left nothing open."
    ),
    roles=STAFF_OF_CORES,
    states=(
        State("disputed", "D", "cross", gettext_lazy("Disputed")),
        State("temporary", "T", "slant", gettext_lazy("Temporary core")),
        State("empty", "N", "hollow", gettext_lazy("Nothing in a housing")),
        State("unpinned", "U", "dots", gettext_lazy("Core without pins")),
        State("unproven", "P", "bars", gettext_lazy("Pinned, not proven")),
        State("proven", "✓", "plain", gettext_lazy("Pinned and proven")),
        State("none", "–", "none", gettext_lazy("No housing")),
    ),
)
WORK = Question(
    code="work",
    label=gettext_lazy("Open work"),
    explained=gettext_lazy(
        "By the open lines of orders, and by losses that are not closed. A door with several shows the first "
        "of the list."
    ),
    roles=STAFF_OF_CORES,
    states=(
        State("shut", "S", "cross", gettext_lazy("Kept shut")),
        State("due", "R", "dense", gettext_lazy("Due for rekey after a loss")),
        State("under-way", "A", "slant", gettext_lazy("Order under way")),
        State("waiting", "W", "dots", gettext_lazy("Order waiting")),
        State("open", "O", "bars", gettext_lazy("Order open")),
        State("none", "–", "plain", gettext_lazy("Nothing to do")),
    ),
)
LOSSES = Question(
    code="losses",
    label=gettext_lazy("Lost keys"),
    explained=gettext_lazy(
        "Doors that a lost key opens or takes the core out of, by the last look at each loss."
    ),
    roles=(*STAFF_OF_CORES, Role.KEY_DESK),
    states=(
        State("due", "R", "dense", gettext_lazy("Due for rekey")),
        State("exposed", "B", "slant", gettext_lazy("Opened by a lost key, below the limit")),
        State("none", "–", "plain", gettext_lazy("Opened by none")),
    ),
)
EXPOSURE = Question(
    code="exposure",
    label=gettext_lazy("Exposure"),
    explained=gettext_lazy("How many bittings turn the core; of several cores in a door the most exposed."),
    roles=(Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR),
    states=(
        State("5", "5", "dense", gettext_lazy("Over 256 bittings")),
        State("4", "4", "cross", gettext_lazy("65 to 256 bittings")),
        State("3", "3", "slant", gettext_lazy("17 to 64 bittings")),
        State("2", "2", "dots", gettext_lazy("5 to 16 bittings")),
        State("1", "1", "plain", gettext_lazy("1 to 4 bittings")),
        State("unknown", "?", "hollow", gettext_lazy("Not assessed as pinned now")),
        State("none", "–", "none", gettext_lazy("No pinned core")),
    ),
)
KEYS = Question(
    code="keys",
    label=gettext_lazy("Keys out"),
    explained=gettext_lazy(
        "How many key copies that turn a core of the door are with holders, by the register of this site."
    ),
    roles=(Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
    states=(
        State("4", "4", "dense", gettext_lazy("Over 64 copies out")),
        State("3", "3", "cross", gettext_lazy("17 to 64 copies out")),
        State("2", "2", "slant", gettext_lazy("5 to 16 copies out")),
        State("1", "1", "dots", gettext_lazy("1 to 4 copies out")),
        State("0", "0", "plain", gettext_lazy("No copy out")),
        State("none", "–", "none", gettext_lazy("No pinned core")),
    ),
)
QUESTIONS = (CORES, WORK, LOSSES, EXPOSURE, KEYS)
