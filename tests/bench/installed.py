"""A new installation for one benchmark: a folder, settings, and tables made from the models."""

import os
import tempfile
from pathlib import Path


def install(folder: str = "") -> Path:
    """All migrations lead to the models; from there the tables come in a tenth of the time."""
    place = Path(folder or tempfile.mkdtemp(prefix="keyctl-bench-"))
    os.environ["KEYCTL_DATA_DIR"] = str(place)
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection

    from keyctl.audit import guards

    settings.ALLOWED_HOSTS = ["testserver", "127.0.0.1"]
    from_the_models()
    call_command("migrate", verbosity=0, run_syncdb=True)
    # The triggers of history come from its migration.
    guards.install(connection)
    return place


def from_the_models() -> None:
    from django.apps import apps
    from django.conf import settings

    settings.MIGRATION_MODULES = {each.label: None for each in apps.get_app_configs()}
