"""The checks in the order in which they matter."""

from collections.abc import Container

from django.db import DatabaseError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.policy import declared
from keyctl.operations.posture import keys, people, running
from keyctl.operations.posture.finding import Check, Finding, Level, Row, look
from keyctl.places.models import Membership

CHECKS: tuple[Check, ...] = (
    Check(
        "vault",
        gettext_lazy("Vault"),
        keys.vault,
        gettext_lazy("Put the key back where keyctl reads it, if it should be open."),
    ),
    Check(
        "keys-apart",
        gettext_lazy("Keys apart from the data"),
        keys.keys_apart,
        gettext_lazy("Move the secrets folder; set it to mode 0700."),
    ),
    Check(
        "address",
        gettext_lazy("Address and TLS"),
        running.address,
        gettext_lazy("Put a proxy with TLS in front; set KEYCTL_BASE_URL to https."),
    ),
    Check(
        "debug",
        gettext_lazy("Debug pages"),
        running.debug,
        gettext_lazy("Unset KEYCTL_DEBUG and start again."),
    ),
    Check(
        "second-factor",
        gettext_lazy("Second factor"),
        people.second_factor,
        gettext_lazy("Ask the people named at /security/ to add one; set KEYCTL_SECOND_FACTOR to forced."),
    ),
    Check(
        "backup",
        gettext_lazy("Backup"),
        running.backup,
        gettext_lazy(
            "Set KEYCTL_BACKUP_DIR and see that a worker runs at night; “manage.py backup” makes one now."
        ),
    ),
    Check(
        "drill",
        gettext_lazy("Backup brought back"),
        running.drill,
        gettext_lazy("Run “manage.py drill”, at least every three months."),
    ),
    Check(
        "estate",
        gettext_lazy("All data sound"),
        running.estate,
        gettext_lazy("Run “manage.py check_estate”; it names each place and remedy."),
        "operations:data",
    ),
    Check(
        "checkpoints",
        gettext_lazy("History signed"),
        keys.checkpoints,
        gettext_lazy("See that a worker runs, and copy the folder of checkpoints off this machine."),
        "history:state",
    ),
    Check(
        "data-folder",
        gettext_lazy("Data folder"),
        keys.data_folder,
        gettext_lazy("Move the data to a disk of this machine."),
    ),
    Check(
        "work",
        gettext_lazy("Worker and routines"),
        running.work,
        gettext_lazy("See /health/ready, and the page of routines."),
        "jobs:routines",
    ),
    Check(
        "jobs",
        gettext_lazy("Jobs that failed"),
        running.jobs,
        gettext_lazy("Open them and see why."),
        "jobs:list",
    ),
    Check(
        "mail",
        gettext_lazy("Mail"),
        running.mail,
        gettext_lazy("Name a mail server; see what could not be sent."),
        "notices:list",
    ),
    Check(
        "reveals",
        gettext_lazy("Looks at bittings"),
        people.reveals,
        gettext_lazy("Ask the person, and read the history."),
        "reveals:register",
    ),
    Check(
        "sessions",
        gettext_lazy("Sessions"),
        people.sessions,
        gettext_lazy("End them where people are looked after."),
        "places:people",
    ),
    Check(
        "tokens",
        gettext_lazy("Tokens of integrations"),
        people.tokens,
        gettext_lazy("Revoke what nobody needs, renew the rest."),
        "api:tokens",
    ),
    Check(
        "tablets",
        gettext_lazy("Tablets"),
        people.tablets,
        gettext_lazy("Judge the events; withdraw what is lost."),
        "field:devices",
    ),
    Check(
        "administrators",
        gettext_lazy("Administrators"),
        people.administrators,
        gettext_lazy("Make a second person administrator."),
        "places:list",
    ),
    Check(
        "data-key",
        gettext_lazy("Age of the data key"),
        keys.data_key_age,
        gettext_lazy("Run “manage.py vault rotate”."),
    ),
    Check(
        "contact",
        gettext_lazy("Contact for weaknesses"),
        running.contact,
        gettext_lazy("Set KEYCTL_SECURITY_CONTACT."),
    ),
)


def rows(reader: User | None = None, names: Container[str] | None = None) -> list[Row]:
    """With links to what the reader may open; programs get none. All of them, or those that are named."""
    roles = set(Membership.objects.filter(user=reader).values_list("role", flat=True)) if reader else set()
    checks = [check for check in CHECKS if names is None or check.name in names]
    return [Row(check, _found(check), _open_to(roles, check.page)) for check in checks]


def _open_to(roles: set[str], page: str) -> str:
    return page if page and roles & (declared()[page].whose("GET") or set()) else ""


def _found(check: Check) -> Finding:
    """What cannot be looked at is not in order; the others are told all the same."""
    try:
        return check.find()
    except (DatabaseError, OSError, Refused) as error:
        return look(_("Could not be looked at ({name}).").format(name=type(error).__name__))


def worst(found: list[Row]) -> Level:
    return max(row.level for row in found)
