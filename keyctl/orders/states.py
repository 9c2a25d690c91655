"""Which act moves an order from which state to which, and whose act it is; nothing else can happen."""

from django.db import models

from keyctl.orders.models import WorkOrder
from keyctl.places.roles import Role

State = WorkOrder.State


class Act(models.TextChoices):
    START = "start", "Start"
    WAIT = "wait", "Let it wait"
    GO_ON = "go_on", "Go on"
    ASSIGN = "assign", "Say who does it"
    ALLOW = "allow", "Allow shutting ways out"
    # Comes of work on a line.
    WORK = "work", "Work on a line"
    # Comes with the last line, or the last part.
    FINISH = "finish", "Finish"
    CANCEL = "cancel", "Cancel"


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
    if state in {State.DONE, State.CANCELLED}:
        return f"is already {State(state).label.lower()}. Nothing was changed."
    if act == Act.START:
        return f"is {State(state).label.lower()} already. {_INSTEAD[State(state)]}"
    if act == Act.WAIT:
        return "waits already. Let it go on first, then say anew what it waits for."
    return f"is {State(state).label.lower()} and waits for nothing. Work on its lines."


_INSTEAD = {
    State.UNDER_WAY: "Work on its lines.",
    State.WAITING: "Let it go on.",
}
