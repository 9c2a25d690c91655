import itertools
from collections import defaultdict
from datetime import timedelta

from django.conf import settings
from django.db import migrations

from keyctl.keys.migrations import _0002_constraints, _0002_tables
from keyctl.lib.moments import end_of_day

NOT_KEPT = "Signature not kept"


def write_acts(apps, schema_editor):
    """Each line of the register as it was gets its acts; days that keys were due on become moments."""
    acts, lines, copies = [], [], []
    numbers = defaultdict(count_from_one)
    lost = _ended_by_loss(apps)
    for line in apps.get_model("keys", "Custody").objects.select_related("copy").order_by("out_at", "pk"):
        acts.append(_act(apps, line, "out", next(numbers[line.copy.site_id])))
        line.out_act = acts[-1]
        line.due_at = line.due_on and end_of_day(line.due_on)
        if line.ended_at is None:
            line.copy.custody = line
            copies.append(line.copy)
        elif line.pk in lost:
            line.ending = "lost"
        else:
            acts.append(_act(apps, line, "back", next(numbers[line.copy.site_id])))
            line.ending, line.back_act = "returned", acts[-1]
        lines.append(line)
    _save(apps, acts, lines, copies, numbers)
    # PostgreSQL alters no table that has foreign keys still to be checked.
    schema_editor.connection.check_constraints()


def count_from_one():
    return itertools.count(1)


def _act(apps, line, way, number):
    is_out = way == "out"
    return apps.get_model("keys", "Handover")(
        site_id=line.copy.site_id,
        number=number,
        way=way,
        holder_id=line.holder_id,
        at=line.out_at if is_out else line.ended_at,
        by_id=line.handed_out_by_id if is_out else line.ended_by_id,
        signed_as=(line.signed_as or NOT_KEPT) if is_out else "",
        sign_way="typed" if is_out else "none",
    )


def _ended_by_loss(apps):
    """Lines whose end is the moment in which history has the copy lost."""
    reported = defaultdict(list)
    subjects = apps.get_model("audit", "EventSubject").objects.filter(
        event__verb="key.lost", kind="keys.keycopy"
    )
    for copy, at in subjects.values_list("subject_id", "event__at"):
        reported[copy].append(at)
    ended = apps.get_model("keys", "Custody").objects.filter(ended_at__isnull=False)
    return {
        pk
        for pk, copy, at in ended.values_list("pk", "copy", "ended_at")
        if any(abs(moment - at) < timedelta(seconds=5) for moment in reported.get(copy, ()))
    }


def _save(apps, acts, lines, copies, numbers):
    apps.get_model("keys", "Handover").objects.bulk_create(acts, batch_size=500)
    fields = ["out_act", "back_act", "due_at", "ending"]
    apps.get_model("keys", "Custody").objects.bulk_update(lines, fields, batch_size=200)
    apps.get_model("keys", "KeyCopy").objects.bulk_update(copies, ["custody"], batch_size=200)
    apps.get_model("keys", "DeskSettings").objects.bulk_create(
        apps.get_model("keys", "DeskSettings")(site_id=site, last_number=next(number) - 1)
        for site, number in numbers.items()
    )


class Migration(migrations.Migration):
    dependencies = [
        ("audit", "0001_initial"),
        ("keys", "0001_initial"),
        ("places", "0001_initial"),
        ("systems", "0002_levels_and_origins"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        *_0002_tables.OPERATIONS,
        migrations.RunPython(write_acts, migrations.RunPython.noop),
        *_0002_constraints.OPERATIONS,
    ]
