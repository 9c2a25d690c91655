"""Which act moves an order from which state to which, and whose act it is; nothing else can happen."""

from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.language import in_sentence
from keyctl.orders.models import WorkOrder
from keyctl.places.roles import Role

State = WorkOrder.State


class Act(models.TextChoices):
    START = "start", gettext_lazy("Start")
    WAIT = "wait", gettext_lazy("Let it wait")
    GO_ON = "go_on", gettext_lazy("Go on")
    ASSIGN = "assign", gettext_lazy("Say who does it")
    ALLOW = "allow", gettext_lazy("Allow shutting ways out")
    # Comes of work on a line.
    WORK = "work", gettext_lazy("Work on a line")
    # Comes with the last line, or the last part.
    FINISH = "finish", gettext_lazy("Finish")
    CANCEL = "cancel", gettext_lazy("Cancel")


SMITH = (Role.LOCKSMITH,)
# Whoever runs the shop may hand work out without doing it.
ASSIGNERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)
OFFICER = (Role.OFFICER,)

STEPS: dict[tuple[State, Act], tuple[State, tuple[Role, ...]]] = {
    (State.OPEN, Act.START): (State.UNDER_WAY, SMITH),
    (State.OPEN, Act.WORK): (State.UNDER_WAY, SMITH),
    (State.OPEN, Act.WAIT): (State.WAITING, SMITH),
    (State.OPEN, Act.ASSIGN): (State.OPEN, ASSIGNERS),
    (State.OPEN, Act.ALLOW): (State.OPEN, OFFICER),
    (State.OPEN, Act.FINISH): (State.DONE, SMITH),
    (State.OPEN, Act.CANCEL): (State.CANCELLED, SMITH),
    (State.UNDER_WAY, Act.WORK): (State.UNDER_WAY, SMITH),
    (State.UNDER_WAY, Act.WAIT): (State.WAITING, SMITH),
    (State.UNDER_WAY, Act.ASSIGN): (State.UNDER_WAY, ASSIGNERS),
    (State.UNDER_WAY, Act.ALLOW): (State.UNDER_WAY, OFFICER),
    (State.UNDER_WAY, Act.FINISH): (State.DONE, SMITH),
    (State.UNDER_WAY, Act.CANCEL): (State.CANCELLED, SMITH),
    # Whoever works on a line has what was waited for.
    (State.WAITING, Act.WORK): (State.UNDER_WAY, SMITH),
    (State.WAITING, Act.GO_ON): (State.UNDER_WAY, SMITH),
    (State.WAITING, Act.ASSIGN): (State.WAITING, ASSIGNERS),
    (State.WAITING, Act.ALLOW): (State.WAITING, OFFICER),
    (State.WAITING, Act.FINISH): (State.DONE, SMITH),
    (State.WAITING, Act.CANCEL): (State.CANCELLED, SMITH),
}

# What a person asks for; the others come of work on lines.
ASKED_FOR = (Act.START, Act.GO_ON, Act.WAIT, Act.ASSIGN, Act.ALLOW, Act.CANCEL)


def why_not(state: str, act: Act) -> str:
    """Words for an act that the state does not allow; they follow the order's name."""
    words = in_sentence(State(state).label)
    if state in {State.DONE, State.CANCELLED}:
        return _("is already {state}. Nothing was changed.").format(state=words)
    if act == Act.START:
        return _("is {state} already. {instead}").format(state=words, instead=_INSTEAD[State(state)])
    if act == Act.WAIT:
        return _("waits already. Let it go on first, then say anew what it waits for.")
    return _("is {state} and waits for nothing. Work on its lines.").format(state=words)


_INSTEAD = {
    State.UNDER_WAY: gettext_lazy("Work on its lines."),
    State.WAITING: gettext_lazy("Let it go on."),
}
