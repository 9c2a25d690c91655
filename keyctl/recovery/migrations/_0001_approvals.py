"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="ControlApproval",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("approved_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("used_at", models.DateTimeField(null=True)),
            ("lapsed_at", models.DateTimeField(null=True)),
            (
                "approved_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "case_opened_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "used_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="approvals",
                    to="recovery.controlkeycase",
                ),
            ),
        ],
        options={
            "ordering": ["-approved_at"],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("lapsed_at__isnull", True), ("used_at__isnull", True)),
                    fields=("case",),
                    name="control_key_case_has_one_approval_at_a_time",
                ),
                models.CheckConstraint(
                    condition=models.Q(("approved_by", models.F("case_opened_by")), _negated=True),
                    name="nobody_approves_their_own_control_key",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("used_by__isnull", True),
                        models.Q(("used_by", models.F("approved_by")), _negated=True),
                        _connector="OR",
                    ),
                    name="who_approves_a_control_key_does_not_take_it",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("used_at__isnull", True), ("used_by__isnull", True)),
                        models.Q(
                            ("lapsed_at__isnull", True),
                            ("used_at__isnull", False),
                            ("used_by__isnull", False),
                        ),
                        _connector="OR",
                    ),
                    name="control_approval_use_says_who",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="CoreReading",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("ordinal", models.PositiveSmallIntegerField()),
            ("findings", models.BinaryField()),
            ("read_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("set_aside_at", models.DateTimeField(null=True)),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="readings",
                    to="recovery.controlkeycase",
                ),
            ),
            (
                "core",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="control_key_readings",
                    to="cores.core",
                ),
            ),
            (
                "read_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "set_aside_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
        ],
        options={
            "ordering": ["case", "ordinal"],
            "constraints": [
                models.UniqueConstraint(fields=("case", "ordinal"), name="core_reading_has_its_own_number"),
                models.UniqueConstraint(
                    condition=models.Q(("set_aside_at__isnull", True)),
                    fields=("case", "core"),
                    name="core_is_read_once_in_a_case",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("set_aside_at__isnull", True), ("set_aside_by__isnull", True)),
                        models.Q(("set_aside_at__isnull", False), ("set_aside_by__isnull", False)),
                        _connector="OR",
                    ),
                    name="core_reading_set_aside_says_who",
                ),
            ],
        },
    ),
]
