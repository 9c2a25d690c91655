#!/usr/bin/env python3
"""Every command of keyctl. The first start makes .venv with the locked packages; after that it only starts.

Standard library only, and readable by Python 3.6, so that a wrong Python can say so itself.
"""

import errno
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

NEEDED = (3, 11)  # exactly: requirements.txt is resolved and hashed for it
ROOT = Path(__file__).resolve().parent
PROBE = "import sys; sys.exit(sys.version_info[:2] != (3, 11))"

# What a database says when something around it is wrong, and what to do; the first match counts.
DATABASE_TROUBLES = (
    (
        ("file is not a database", "disk image is malformed"),
        "{place} is not a database, or is damaged. Put a backup in its place, or move it away.",
    ),
    (("disk is full",), "there is no room left for {place}. Make room and run the same command again."),
    (
        ("readonly database", "unable to open database file", "permission denied"),
        "cannot open or write {place}. The file and its folder must belong to the user that starts keyctl.",
    ),
    (("disk i/o error",), "the disk under {place} does not answer properly. Check it before anything else."),
    (("database is locked",), "{place} is in use by another command. Wait for it, then run this one again."),
    (("connection",), "cannot reach {place} ({said}). Check that it runs, and KEYCTL_DATABASE_URL."),
    (
        ("no such table", "no such column", "does not exist"),
        "{place} lacks tables. Run `manage.py migrate`.",
    ),
)


def main(argv: "list[str]") -> int:
    if sys.version_info[:2] != NEEDED:
        return change_python(argv)
    if argv[1:] == ["--version"]:
        return tell_release()
    testing = argv[1:2] == ["test"]
    # Only now: the bootstrap is written for the Python that was asked for.
    from keyctl.lib import bootstrap

    try:
        bootstrap.enter_venv(bootstrap.Home(ROOT), argv, testing)
    except bootstrap.CannotStart as trouble:
        return complain(str(trouble))
    except KeyboardInterrupt:
        complain("keyctl: stopped. The same command takes it up again.")
        return 130
    return run_tests(argv[2:]) if testing else run_command(argv)


def tell_release() -> int:
    from keyctl import __version__

    sys.stdout.write("keyctl " + __version__ + "\n")
    return 0


def change_python(argv: "list[str]") -> int:
    found = shutil.which("python3.11")
    # A version switcher may put a python3.11 on PATH that only says it is not installed: ask it first.
    quiet = subprocess.DEVNULL
    if found and subprocess.call([found, "-c", PROBE], stdout=quiet, stderr=quiet) == 0:
        sys.stderr.flush()
        os.execv(found, [found, str(ROOT / "manage.py"), *argv[1:]])
    return complain(
        "keyctl: needs Python 3.11, and this is {}.{}. Install it (on Debian 12: `apt-get install "
        "python3 python3-venv`) and start with `python3.11 manage.py`.".format(*sys.version_info)
    )


def run_tests(arguments: "list[str]") -> int:
    if importlib.util.find_spec("pytest") is None:
        return complain("keyctl: the test tools are not here. `python3 manage.py test` installs them.")
    os.chdir(ROOT)
    os.environ.pop("DJANGO_SETTINGS_MODULE", None)  # the tests have settings of their own
    sys.stdout.flush()
    os.execv(sys.executable, [sys.executable, "-m", "pytest", *arguments])


def run_command(argv: "list[str]") -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keyctl.settings")
    if importlib.util.find_spec("django") is None:
        return complain(
            "keyctl: Django is not installed for {}. Unset KEYCTL_NO_VENV, or run `pip install "
            "--require-hashes -r requirements.txt`.".format(sys.executable)
        )
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line
    from django.db import DatabaseError

    try:
        execute_from_command_line(argv)
    except (DatabaseError, ImproperlyConfigured, OSError) as error:
        line = explain(error)
        if line is None or "--traceback" in argv:
            raise
        return complain("keyctl: " + line)
    return 0


def explain(error: Exception) -> "str | None":
    """One line with the remedy, or None where the error is nothing the surroundings can have caused."""
    from django.core.exceptions import ImproperlyConfigured
    from django.db import DatabaseError

    if isinstance(error, ImproperlyConfigured):
        return " ".join(str(error).split())
    if isinstance(error, DatabaseError):
        return explain_database(error, database_place())
    return explain_file(error) if isinstance(error, OSError) else None


def explain_database(error: Exception, place: str) -> "str | None":
    from django.db import OperationalError

    said = " ".join(str(error).split())
    for signs, advice in DATABASE_TROUBLES:
        if any(sign in said.lower() for sign in signs):
            return advice.format(place=place, said=said)
    if isinstance(error, OperationalError):
        return "{} does not do as asked ({}). Add --traceback for the whole story.".format(place, said)
    return None


def database_place() -> str:
    from django.conf import settings

    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("postgresql"):
        return "{NAME} at {HOST}:{PORT}".format(**database)
    return str(database["NAME"])


def explain_file(error: OSError) -> "str | None":
    if error.filename is None:
        return None
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "no room left to write {}. Make room and run the same command again.".format(error.filename)
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "may not open or write {}. Start as its owner, or mend its permissions.".format(error.filename)
    return None


def complain(line: str) -> int:
    sys.stderr.write(line + "\n")
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv))
