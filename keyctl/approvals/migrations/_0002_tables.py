"""A part of 0002_steps_and_rules: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
from django.db import migrations, models

OPERATIONS = [
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
]
