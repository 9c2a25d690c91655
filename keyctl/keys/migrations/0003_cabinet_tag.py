"""Cabinets get a code of their own for the label; each old one a new random one."""

from typing import Any

import django.db.models
from django.db import migrations, models

import keyctl.lib.tags


def give_each_its_own(apps: Any, _editor: Any) -> None:
    cabinets: Any = apps.get_model("keys", "Cabinet").objects
    found = list(cabinets.only("pk"))
    for cabinet in found:
        cabinet.tag = keyctl.lib.tags.new_tag()
    cabinets.bulk_update(found, ["tag"], batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("keys", "0002_handovers")]

    operations = [
        migrations.AddField(
            "cabinet", "tag", models.CharField(default="", max_length=16), preserve_default=False
        ),
        migrations.RunPython(give_each_its_own, migrations.RunPython.noop),
        migrations.AlterField(
            "cabinet", "tag", models.CharField(default=keyctl.lib.tags.new_tag, max_length=16)
        ),
        migrations.AddConstraint(
            "cabinet", django.db.models.UniqueConstraint(fields=["tag"], name="cabinet_tag_is_unique")
        ),
    ]
