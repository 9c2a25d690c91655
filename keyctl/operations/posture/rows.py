"""The checks in the order in which they matter."""

from django.db import DatabaseError

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.policy import declared
from keyctl.operations.posture import keys, people, running
from keyctl.operations.posture.finding import Check, Finding, Level, Row, look
from keyctl.places.models import Membership

CHECKS: tuple[Check, ...] = (
    Check("vault", "Vault", keys.vault, "Put the key back where keyctl reads it, if it should be open."),
    Check(
        "keys-apart",
        "Keys apart from the data",
        keys.keys_apart,
        "Move the secrets folder; set it to mode 0700.",
    ),
    Check(
        "address",
        "Address and TLS",
        running.address,
        "Put a proxy with TLS in front; set KEYCTL_BASE_URL to https.",
    ),
    Check("debug", "Debug pages", running.debug, "Unset KEYCTL_DEBUG and start again."),
    Check(
        "second-factor",
        "Second factor",
        people.second_factor,
        "Ask the people named at /security/ to add one; set KEYCTL_SECOND_FACTOR to forced.",
    ),
    Check(
        "backup",
        "Backup",
        running.backup,
        "Set KEYCTL_BACKUP_DIR and see that a worker runs at night; “manage.py backup” makes one now.",
    ),
    Check(
        "drill", "Backup brought back", running.drill, "Run “manage.py drill”, at least every three months."
    ),
    Check(
        "estate",
        "All data sound",
        running.estate,
        "Run “manage.py check_estate”; it names each place and remedy.",
        "operations:data",
    ),
    Check(
        "checkpoints",
        "History signed",
        keys.checkpoints,
        "See that a worker runs, and copy the folder of checkpoints off this machine.",
        "history:state",
    ),
    Check("data-folder", "Data folder", keys.data_folder, "Move the data to a disk of this machine."),
    Check(
        "work",
        "Worker and routines",
        running.work,
        "See /health/ready, and the page of routines.",
        "jobs:routines",
    ),
    Check("jobs", "Jobs that failed", running.jobs, "Open them and see why.", "jobs:list"),
    Check("mail", "Mail", running.mail, "Name a mail server; see what could not be sent.", "notices:list"),
    Check(
        "reveals",
        "Looks at bittings",
        people.reveals,
        "Ask the person, and read the history.",
        "reveals:register",
    ),
    Check(
        "sessions", "Sessions", people.sessions, "End them where people are looked after.", "places:people"
    ),
    Check(
        "tokens",
        "Tokens of integrations",
        people.tokens,
        "Revoke what nobody needs, renew the rest.",
        "api:tokens",
    ),
    Check("tablets", "Tablets", people.tablets, "Judge the events; withdraw what is lost.", "field:devices"),
    Check(
        "administrators",
        "Administrators",
        people.administrators,
        "Make a second person administrator.",
        "places:list",
    ),
    Check("data-key", "Age of the data key", keys.data_key_age, "Run “manage.py vault rotate”."),
    Check("contact", "Contact for weaknesses", running.contact, "Set KEYCTL_SECURITY_CONTACT."),
)


def rows(reader: User | None = None) -> list[Row]:
    """With links to what the reader may open; programs get none."""
    roles = set(Membership.objects.filter(user=reader).values_list("role", flat=True)) if reader else set()
    return [Row(check, _found(check), _open_to(roles, check.page)) for check in CHECKS]


def _open_to(roles: set[str], page: str) -> str:
    return page if page and roles & (declared()[page].whose("GET") or set()) else ""


def _found(check: Check) -> Finding:
    """What cannot be looked at is not in order; the others are told all the same."""
    try:
        return check.find()
    except (DatabaseError, OSError, Refused) as error:
        return look(f"Could not be looked at ({type(error).__name__}).")


def worst(found: list[Row]) -> Level:
    return max(row.level for row in found)
