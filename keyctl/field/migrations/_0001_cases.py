"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="CaseStory",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("teller", models.CharField(max_length=240)),
            ("claimed_at", models.DateTimeField()),
            ("received_at", models.DateTimeField()),
            ("skew_seconds", models.IntegerField(null=True)),
            ("says", models.CharField(max_length=1000)),
            ("register_said", models.CharField(max_length=1000)),
            ("reason", models.CharField(max_length=600)),
            (
                "event",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="stories",
                    to="field.fieldevent",
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="stories",
                    to="field.reconcilecase",
                ),
            ),
        ],
        options={
            "ordering": ["received_at", "claimed_at"],
            "constraints": [
                models.UniqueConstraint(fields=("case", "event"), name="case_holds_a_story_once"),
            ],
        },
    ),
    migrations.CreateModel(
        name="CaseHousing",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("is_open", models.BooleanField(default=True)),
            (
                "housing",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="places.housing"
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="case_housings",
                    to="field.reconcilecase",
                ),
            ),
        ],
        options={
            "constraints": [
                models.UniqueConstraint(fields=("case", "housing"), name="case_names_a_housing_once"),
                models.UniqueConstraint(
                    condition=models.Q(("is_open", True)),
                    fields=("housing",),
                    name="housing_stands_in_one_open_case",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="CaseCore",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("is_open", models.BooleanField(default=True)),
            ("decided", models.CharField(blank=True, max_length=200)),
            (
                "core",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="cores.core"
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="case_cores",
                    to="field.reconcilecase",
                ),
            ),
        ],
        options={
            "ordering": ["core__tag"],
            "constraints": [
                models.UniqueConstraint(fields=("case", "core"), name="case_names_a_core_once"),
                models.UniqueConstraint(
                    condition=models.Q(("is_open", True)),
                    fields=("core",),
                    name="core_stands_in_one_open_case",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="RejectedEvent",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("event_id", models.UUIDField(null=True)),
            ("digest", models.CharField(max_length=64)),
            ("sequence", models.PositiveIntegerField(null=True)),
            ("received_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("text", models.TextField(blank=True)),
            ("reason", models.CharField(max_length=600)),
            (
                "device",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="rejected",
                    to="field.device",
                ),
            ),
            (
                "sender",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
        ],
        options={
            "ordering": ["-received_at"],
            "indexes": [
                # What of a tablet was refused, in its own order.
                models.Index(fields=["device", "sequence"], name="rejected_event_by_sequence"),
            ],
            "constraints": [
                models.UniqueConstraint(fields=("event_id", "digest"), name="rejected_event_is_kept_once"),
            ],
        },
    ),
    migrations.CreateModel(
        name="DeviceUser",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("since", models.DateTimeField(default=django.utils.timezone.now)),
            (
                "device",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="users", to="field.device"
                ),
            ),
            (
                "user",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
        ],
        options={
            "constraints": [
                models.UniqueConstraint(fields=("device", "user"), name="device_knows_a_user_once")
            ],
        },
    ),
]
