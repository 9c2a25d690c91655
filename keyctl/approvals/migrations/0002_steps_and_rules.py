import uuid
from datetime import timedelta

import django.db.models.deletion
from django.apps.registry import Apps
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.utils import timezone


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
        migrations.CreateModel(
            name="ApprovalRule",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("ordinal", models.PositiveSmallIntegerField()),
                (
                    "when",
                    models.CharField(
                        choices=[
                            ("always", "Always"),
                            ("master", "One of the keys is a master key"),
                            ("top", "One of the keys is a top key"),
                            ("level", "One of the keys is a master key at a level or above it"),
                            ("door-class", "The keys open a door of a class"),
                            ("extra", "The keys open many doors that nobody asked for"),
                        ],
                        max_length=12,
                    ),
                ),
                ("level", models.PositiveSmallIntegerField(null=True)),
                ("door_class", models.CharField(blank=True, max_length=12)),
                ("extra", models.PositiveSmallIntegerField(null=True)),
                (
                    "who",
                    models.CharField(
                        choices=[
                            ("building", "The building’s people"),
                            ("officer", "A security officer"),
                            ("named", "Named people"),
                        ],
                        max_length=10,
                    ),
                ),
                ("is_apart", models.BooleanField(default=False)),
                ("silent_hours", models.PositiveSmallIntegerField(default=48)),
            ],
            options={
                "ordering": ["site__code", "ordinal"],
            },
        ),
        migrations.CreateModel(
            name="Step",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("ordinal", models.PositiveSmallIntegerField()),
                (
                    "who",
                    models.CharField(
                        choices=[
                            ("building", "The building’s people"),
                            ("officer", "A security officer"),
                            ("named", "Named people"),
                        ],
                        max_length=10,
                    ),
                ),
                ("label", models.CharField(max_length=60)),
                ("why", models.CharField(max_length=400)),
                ("is_apart", models.BooleanField(default=False)),
                (
                    "state",
                    models.CharField(
                        choices=[("waiting", "Waiting"), ("approved", "Approved"), ("refused", "Refused")],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("since", models.DateTimeField(null=True)),
                ("silent_hours", models.PositiveSmallIntegerField(default=48)),
                ("due_at", models.DateTimeField(null=True)),
                (
                    "told",
                    models.CharField(
                        choices=[
                            ("asked", "Those asked"),
                            ("reminded", "All of them reminded"),
                            ("officer", "The security officers"),
                            ("administrator", "The administrators"),
                        ],
                        default="asked",
                        max_length=14,
                    ),
                ),
                ("escalated_at", models.DateTimeField(null=True)),
                ("decided_at", models.DateTimeField(null=True)),
                ("note", models.CharField(blank=True, max_length=400)),
            ],
            options={
                "ordering": ["request", "ordinal"],
            },
        ),
        migrations.CreateModel(
            name="Substitute",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("since", models.DateField()),
                ("until", models.DateField()),
                ("ended_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["since", "until"],
            },
        ),
        migrations.RemoveConstraint(
            model_name="keyrequest",
            name="key_request_decision_says_who_and_when",
        ),
        migrations.AddField(
            model_name="grant",
            name="order_line",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="grants",
                to="orders.orderline",
            ),
        ),
        migrations.AddField(
            model_name="grant",
            name="reserved_copy",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="reservations",
                to="keys.keycopy",
            ),
        ),
        migrations.AddField(
            model_name="keyrequest",
            name="ready_at",
            field=models.DateTimeField(null=True),
        ),
        migrations.AddField(
            model_name="keyrequest",
            name="starts_on",
            field=models.DateField(null=True),
        ),
        migrations.AlterField(
            model_name="keyrequest",
            name="state",
            field=models.CharField(
                choices=[
                    ("asked", "Waiting for a decision"),
                    ("approved", "Being made ready"),
                    ("ready", "Ready to collect"),
                    ("handed-out", "Handed out"),
                    ("refused", "Refused"),
                    ("withdrawn", "Withdrawn"),
                ],
                default="asked",
                max_length=12,
            ),
        ),
        migrations.AddConstraint(
            model_name="grant",
            constraint=models.UniqueConstraint(
                condition=models.Q(("reserved_copy__isnull", False)),
                fields=("reserved_copy",),
                name="key_copy_is_set_aside_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="grant",
            constraint=models.CheckConstraint(
                condition=models.Q(("reserved_copy__isnull", True), ("copy__isnull", True), _connector="OR"),
                name="grant_sets_nothing_aside_once_handed_out",
            ),
        ),
        migrations.AddConstraint(
            model_name="keyrequest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("decided_at__isnull", True),
                        ("decided_by__isnull", True),
                        ("state__in", ["asked", "withdrawn"]),
                    ),
                    models.Q(
                        ("decided_at__isnull", False),
                        ("decided_by__isnull", False),
                        ("state__in", ["approved", "ready", "handed-out", "refused", "withdrawn"]),
                    ),
                    _connector="OR",
                ),
                name="key_request_decision_says_who_and_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="keyrequest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "ready"), _negated=True), ("ready_at__isnull", False), _connector="OR"
                ),
                name="key_request_that_is_ready_says_since_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="keyrequest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("starts_on__isnull", True),
                    ("needed_until__isnull", True),
                    ("needed_until__gte", models.F("starts_on")),
                    _connector="OR",
                ),
                name="key_request_ends_after_it_starts",
            ),
        ),
        migrations.AddField(
            model_name="approvalrule",
            name="people",
            field=models.ManyToManyField(related_name="+", to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name="approvalrule",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="approval_rules", to="places.site"
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="asked_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="asked_for",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="decided_by",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="for_person",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="master_out_by",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="step",
            name="people",
            field=models.ManyToManyField(related_name="+", to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name="step",
            name="request",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="steps", to="approvals.keyrequest"
            ),
        ),
        migrations.AddField(
            model_name="substitute",
            name="building",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="substitutes",
                to="places.building",
            ),
        ),
        migrations.AddField(
            model_name="substitute",
            name="ended_by",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="substitute",
            name="named_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="substitute",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="substitutes",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="substitute",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="substitutes", to="places.site"
            ),
        ),
        migrations.AddField(
            model_name="substitute",
            name="stands_in",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="stands_in_for",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="approvalrule",
            constraint=models.UniqueConstraint(
                fields=("site", "ordinal"), name="approval_rule_has_its_place_at_a_site"
            ),
        ),
        migrations.AddConstraint(
            model_name="approvalrule",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("door_class", ""),
                        ("extra__isnull", True),
                        ("level__isnull", False),
                        ("when", "level"),
                    ),
                    models.Q(
                        ("door_class__in", ["restricted", "critical"]),
                        ("extra__isnull", True),
                        ("level__isnull", True),
                        ("when", "door-class"),
                    ),
                    models.Q(
                        ("door_class", ""), ("extra__gt", 0), ("level__isnull", True), ("when", "extra")
                    ),
                    models.Q(
                        ("door_class", ""),
                        ("extra__isnull", True),
                        ("level__isnull", True),
                        ("when__in", ["always", "master", "top"]),
                    ),
                    _connector="OR",
                ),
                name="approval_rule_says_when_it_holds",
            ),
        ),
        migrations.AddConstraint(
            model_name="approvalrule",
            constraint=models.CheckConstraint(
                condition=models.Q(("silent_hours__gte", 1), ("silent_hours__lte", 720)),
                name="approval_rule_waits_at_least_an_hour",
            ),
        ),
        migrations.AddIndex(
            model_name="step",
            index=models.Index(fields=["state", "due_at"], name="step_by_due_time"),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.UniqueConstraint(
                fields=("request", "ordinal"), name="step_has_its_place_in_its_request"
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.UniqueConstraint(
                condition=models.Q(("since__isnull", False), ("state", "waiting")),
                fields=("request",),
                name="key_request_waits_for_one_step_at_a_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.UniqueConstraint(
                condition=models.Q(("is_apart", True)),
                fields=("request", "decided_by"),
                name="steps_apart_are_decided_by_different_people",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("decided_at__isnull", True), ("decided_by__isnull", True), ("state", "waiting")
                    ),
                    models.Q(
                        ("decided_at__isnull", False),
                        ("decided_by__isnull", False),
                        ("since__isnull", False),
                        ("state__in", ["approved", "refused"]),
                    ),
                    _connector="OR",
                ),
                name="step_decision_says_who_and_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("due_at__isnull", True), ("since__isnull", True)),
                    models.Q(("due_at__isnull", False), ("since__isnull", False)),
                    _connector="OR",
                ),
                name="step_that_waits_says_until_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.CheckConstraint(
                condition=models.Q(("decided_by", models.F("asked_by")), _negated=True),
                name="nobody_decides_a_step_they_asked_for",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.CheckConstraint(
                condition=models.Q(("decided_by", models.F("asked_for")), _negated=True),
                name="nobody_decides_a_step_for_themselves",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("for_person", models.F("asked_by")), _negated=True),
                    models.Q(("for_person", models.F("asked_for")), _negated=True),
                ),
                name="no_substitute_decides_for_whom_they_stand_in",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.CheckConstraint(
                condition=models.Q(("decided_by", models.F("for_person")), _negated=True),
                name="nobody_decides_as_their_own_substitute",
            ),
        ),
        migrations.AddConstraint(
            model_name="step",
            constraint=models.CheckConstraint(
                condition=models.Q(("master_out_by", models.F("decided_by")), _negated=True),
                name="who_decides_a_step_does_not_hand_its_master_out",
            ),
        ),
        migrations.AddConstraint(
            model_name="substitute",
            constraint=models.CheckConstraint(
                condition=models.Q(("person", models.F("stands_in")), _negated=True),
                name="nobody_is_their_own_substitute",
            ),
        ),
        migrations.AddConstraint(
            model_name="substitute",
            constraint=models.CheckConstraint(
                condition=models.Q(("until__gte", models.F("since"))), name="substitution_ends_after_it_began"
            ),
        ),
        migrations.AddConstraint(
            model_name="substitute",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ended_at__isnull", True), ("ended_by__isnull", True)),
                    models.Q(("ended_at__isnull", False), ("ended_by__isnull", False)),
                    _connector="OR",
                ),
                name="substitution_that_was_ended_says_by_whom",
            ),
        ),
        migrations.RunPython(give_open_requests_their_first_step, migrations.RunPython.noop),
    ]
