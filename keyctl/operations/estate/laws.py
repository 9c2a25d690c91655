"""The laws that belong to no app alone; each app names its own beside its other callbacks."""

from django.utils.translation import gettext_noop

from keyctl.lib.laws import register_law
from keyctl.operations.estate import deeper, tables

FROM_A_BACKUP = gettext_noop(
    "Find in the history when the row last changed, and restore a backup from before into a scratch folder "
    "to compare; correct it by the ordinary pages."
)
TAKEN_OUT = gettext_noop(
    "Rows were taken out past the program. Find in the history when the row last changed, and restore a "
    "backup from before into a scratch folder to compare; correct it by the ordinary pages."
)


def register_laws() -> None:
    register_law(
        "database.file",
        gettext_noop("The database file is sound"),
        tables.unsound_file,
        gettext_noop("Restore the newest backup."),
    )
    register_law(
        "database.constraints",
        gettext_noop("Every named constraint is in the database"),
        tables.missing_constraints,
        gettext_noop("Somebody lifted it. Run `manage.py migrate`, and find who owns the database."),
    )
    register_law(
        "database.rows",
        gettext_noop("No row says what a constraint forbids"),
        tables.broken_constraints,
        FROM_A_BACKUP,
    )
    register_law(
        "database.references",
        gettext_noop("What a row points at is there"),
        tables.dangling_references,
        TAKEN_OUT,
    )
    register_law(
        "history.chain",
        gettext_noop("The history is what was recorded and signed"),
        deeper.broken_history,
        gettext_noop(
            "Keep database and checkpoints as they are, and compare with the copies of the checkpoints "
            "elsewhere."
        ),
    )
    register_law(
        "vault.opens",
        gettext_noop("Every sealed value opens in its place"),
        deeper.closed_values,
        gettext_noop("Restore the value from a backup; do not write over it."),
    )
    register_law(
        "cores.turns",
        gettext_noop("Stored turns are what the pins give"),
        deeper.wrong_turns,
        gettext_noop("Prove the whole estate (Systems, Proofs): that stores the turns anew."),
    )
