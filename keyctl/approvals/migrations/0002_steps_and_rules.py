from datetime import timedelta

from django.apps.registry import Apps
from django.conf import settings
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.utils import timezone

from keyctl.approvals.migrations import _0002_constraints, _0002_tables


def give_open_requests_their_first_step(apps: Apps, _: BaseDatabaseSchemaEditor) -> None:
    """Requests that wait when this is applied go on as they would have: one decision of a manager."""
    now = timezone.now()
    step = apps.get_model("approvals", "Step")
    waiting = apps.get_model("approvals", "KeyRequest").objects.filter(state="asked")
    step.objects.bulk_create(
        step(
            request=request,
            ordinal=1,
            who="building",
            label="The building’s people",
            why="They decide every request for the building, and which keys it gives.",
            asked_by_id=request.requester_id,
            asked_for_id=request.holder_user_id,
            since=now,
            due_at=now + timedelta(hours=48),
        )
        for request in waiting.iterator()
    )


class Migration(migrations.Migration):
    dependencies = [
        ("approvals", "0001_initial"),
        ("keys", "0001_initial"),
        ("orders", "0002_cut_keys"),
        ("places", "0001_initial"),
        ("systems", "0002_levels_and_origins"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        *_0002_tables.OPERATIONS,
        *_0002_constraints.OPERATIONS,
        migrations.RunPython(give_open_requests_their_first_step, migrations.RunPython.noop),
    ]
