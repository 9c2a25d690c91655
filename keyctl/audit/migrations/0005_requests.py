"""Events name the request they were written in. Those that are there name none, and stay as they were hashed."""

from django.db import migrations, models

from keyctl.audit import guards


def install(_apps, schema_editor):
    guards.install(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("audit", "0004_guards")]

    operations = [
        # A nullable column is added in place; nothing is copied, whatever the length of the history.
        migrations.AddField("event", "request", models.CharField(max_length=64, null=True)),
        migrations.RunPython(install, install),
    ]
