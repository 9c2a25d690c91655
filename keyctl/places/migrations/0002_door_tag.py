"""Doors get a code of their own for the label that is scanned at the door; each old one a new random one."""

from typing import Any

import django.db.models
from django.db import migrations, models

import keyctl.lib.tags

BATCH = 2000


def give_each_its_own(apps: Any, _editor: Any) -> None:
    doors: Any = apps.get_model("places", "Door").objects
    batch = []
    for door in doors.only("pk").iterator(chunk_size=BATCH):
        door.tag = keyctl.lib.tags.new_tag()
        batch.append(door)
        if len(batch) == BATCH:
            doors.bulk_update(batch, ["tag"], batch_size=500)
            batch = []
    doors.bulk_update(batch, ["tag"], batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("places", "0001_initial")]

    operations = [
        migrations.AddField(
            "door", "tag", models.CharField(default="", max_length=16), preserve_default=False
        ),
        migrations.RunPython(give_each_its_own, migrations.RunPython.noop),
        migrations.AlterField(
            "door", "tag", models.CharField(default=keyctl.lib.tags.new_tag, max_length=16)
        ),
        migrations.AddConstraint(
            "door", django.db.models.UniqueConstraint(fields=["tag"], name="door_tag_is_unique")
        ),
    ]
