"""The triggers that refuse what is not an appending; whoever changes their text installs them again."""

from django.db import migrations

from keyctl.audit import guards


def install(_apps, schema_editor):
    guards.install(schema_editor.connection)


def remove(_apps, schema_editor):
    guards.remove(schema_editor.connection)


class Migration(migrations.Migration):
    # SQLite copies a table to change it and drops the old one, and its triggers with it: a migration of
    # these tables ends with `install`.
    dependencies = [("audit", "0003_link_what_is_there")]

    operations = [migrations.RunPython(install, remove)]
