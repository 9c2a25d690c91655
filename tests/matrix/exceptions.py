"""Where a view says less than the roles do, or lets somebody in whom the record itself names.

Every line is a decision that was looked at; the table holds it like any other cell.
"""

from typing import Any

from keyctl.places.roles import Role
from tests.matrix.people import ACTORS, NOBODY, TWINS
from tests.scenes.base import Base

Cells = dict[str, str]
TWIN_NAMES = [twin.name for twin in TWINS]
PEOPLE = [actor.name for actor in ACTORS if actor is not NOBODY]


def get(cell: str, *names: str) -> Cells:
    return dict.fromkeys(names, cell)


def only(*names: str, others: str) -> Cells:
    """The named alone; everybody else who is signed in is told the same."""
    return get(others, *PEOPLE, *TWIN_NAMES) | get("yes", *names)


def both_methods(route: str, cells: Cells) -> dict[tuple[str, str], Cells]:
    return {(route, "GET"): cells, (route, "POST"): cells}


# Whoever answers for people everywhere administers every site; at one site alone they do not suffice.
KEEPS_NOBODY = get("403", "administrator", "misplaced", f"twin-{Role.ADMINISTRATOR.value}")
OF_PEOPLE = ("new", "lists", "bring")
OF_ONE = ("change", "leave", "return", "tie", "list-detail", "columns", "apply", "give-up", "missing")
# What a tablet tells is taken from whoever is signed in on it.
TAKEN_FROM_ALL = get("yes", "withdrawn", *TWIN_NAMES)

NOT_A_LOCKSMITH_S = get("403", "officer", "misplaced") | get("404", "twin-locksmith", "twin-officer")

# Open to all, and what comes without its first step, or ends, leads to the sign-in.
TO_THE_SIGN_IN = {"nobody": "sign-in"}

EXCEPTIONS: dict[tuple[str, str], Cells] = {
    **both_methods("accounts:second-factor", TO_THE_SIGN_IN),
    ("accounts:sign-in-passkey", "POST"): TO_THE_SIGN_IN,
    ("accounts:sign-out", "POST"): TO_THE_SIGN_IN,
    # A code leads where the thing that carries it may be looked at.
    ("find-by-tag", "GET"): get("403", "requester", "misplaced") | get("404", "withdrawn", *TWIN_NAMES),
    # The asker's own request; the building's manager decides it.
    ("approvals:detail", "GET"): get("yes", "requester"),
    ("approvals:withdraw", "POST"): get("yes", "requester"),
    ("approvals:approve", "POST"): get("yes", "manager"),
    ("approvals:refuse", "POST"): get("yes", "manager"),
    # Whom somebody stands in for ends that too.
    ("approvals:substitute-end", "POST"): get("yes", "manager"),
    # Whose keys are counted, who watches, who gives or takes the cabinet.
    **both_methods("counts:declare", get("yes", "requester")),
    ("counts:witness", "POST"): get("yes", "auditor"),
    ("counts:handover", "GET"): get("yes", "manager"),
    ("counts:sign-handover", "POST"): get("yes", "manager"),
    # A tray is its clerk's alone, a calendar its person's.
    ("desk:leave-out", "POST"): get("404", "several"),
    ("desk:condition", "POST"): get("404", "several"),
    ("desk:end-feed", "POST"): only("desk", others="404"),
    ("desk:renew-feed", "POST"): only("desk", others="404"),
    # The list is that of doors, which requesters do not read; a view and an act on rows are one's own.
    **{
        (f"listing:{name}", method): get("403", "requester", f"twin-{Role.REQUESTER.value}")
        for name in ("columns", "views", "keep-view", "open-whole", "begin")
        for method in ("GET", "POST")
    },
    **{
        (f"listing:{name}", method): only("locksmith", others="404")
        for name in ("view", "remove-view", "open-with", "act", "try", "do", "undo", "drop")
        for method in ("GET", "POST")
    },
    # Their own keys, and what they say of them.
    ("keys:holder", "GET"): get("yes", "requester"),
    **both_methods("losses:own", only("requester", others="404")),
    # Who began a job stops it, goes on with it and opens its file; officers and administrators stop it too.
    ("jobs:cancel", "POST"): get("403", "desk", "manager", "auditor", "integration", "several"),
    ("jobs:resume", "POST"): get(
        "403", "desk", "manager", "officer", "auditor", "administrator", "integration", "several", "both"
    ),
    ("jobs:file", "POST"): get(
        "403", "desk", "manager", "auditor", "administrator", "integration", "several", "both"
    ),
    **{
        (f"directory:{name}", method): KEEPS_NOBODY
        for name in (*OF_PEOPLE, *OF_ONE)
        for method in ("GET", "POST")
    },
    # The whole estate leaves by who administers every site; an archive is its asker's alone.
    **both_methods("operations:archive", KEEPS_NOBODY),
    **{
        (f"operations:archive-{act}", "POST"): KEEPS_NOBODY | get("404", "both")
        for act in ("make", "fetch", "delete")
    },
    # Only who administers every site of a person touches how they sign in.
    ("places:end-sessions", "POST"): get("404", "misplaced"),
    ("places:reset-factors", "POST"): get("404", "misplaced"),
    # Which role is ended, the request names: it is one of the other site.
    ("places:end-role", "POST"): get("404", "misplaced"),
    # Which thing is asked about, its kind tells: here a core, whose pins are for locksmiths of its site.
    **both_methods("reveals:ask", NOT_A_LOCKSMITH_S),
    # Who asks reads and takes back what they asked for; nobody has another's list made.
    ("reveals:permission", "GET"): get("yes", "locksmith"),
    ("reveals:withdraw", "POST"): get("yes", "locksmith"),
    ("prints:make", "POST"): get("404", "officer"),
    # No provider is configured, so nothing is there for anybody.
    ("accounts:provider", "POST"): get("404", *PEOPLE, NOBODY.name),
    ("accounts:provider-callback", "GET"): get("404", *PEOPLE, NOBODY.name),
    # Nobody looks at pictures without signing in, and a tablet is told so in its own way.
    ("field:photo", "GET"): {"nobody": "sign-in"},
    ("field:photo", "POST"): {"nobody": "sign-in"},
    ("field:photo", "PUT"): TAKEN_FROM_ALL,
}

# SCIM says of what it leaves out that it is left out.
EXCEPTIONS_OF_PROGRAMS: dict[tuple[str, str], Cells] = {
    **{("scim:groups", method): get("501", "people") for method in ("POST", "PUT", "PATCH", "DELETE")},
    **{
        (f"scim:{name}", method): get("501", "people")
        for name in ("me", "bulk")
        for method in ("GET", "POST", "PUT", "PATCH", "DELETE")
    },
}

# What is noted of a look, by decision: that a calendar still reads its address.
NOTED = {"desk:feed"}


def sent(base: Base, objects: dict[str, Any]) -> dict[tuple[str, str], dict[str, Any]]:
    """What a request must hold to be about anything: without it the answer is that nothing is there."""
    format = {"format": base.system.format_id}
    person = {"person": base.cast.locksmith.pk}
    return {
        ("places:end-sessions", "POST"): person,
        ("places:reset-factors", "POST"): person,
        ("places:end-role", "POST"): {"membership": base.cast.locksmith.memberships.get().pk},
        ("desk:taker", "POST"): {"holder": base.holder.pk},
        ("desk:ready", "POST"): {"request": objects["approvals:detail"]},
        ("desk:found", "POST"): {"copy": base.copy.pk, "cabinet": base.cabinet.pk},
        ("inherited:found", "POST"): format,
        ("inherited:make", "POST"): format,
    }
