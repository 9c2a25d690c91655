"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="LostCopy",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("lost_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("last_with", models.CharField(blank=True, max_length=120)),
            ("where", models.CharField(blank=True, max_length=200)),
            ("last_seen", models.CharField(blank=True, max_length=120)),
            ("police_number", models.CharField(blank=True, max_length=60)),
            ("found_at", models.DateTimeField(null=True)),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="lost_copies",
                    to="losses.losscase",
                ),
            ),
            (
                "copy",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="losses", to="keys.keycopy"
                ),
            ),
            (
                "holder",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="losses",
                    to="keys.holder",
                ),
            ),
            (
                "symbol",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="losses",
                    to="systems.keysymbol",
                ),
            ),
        ],
        options={
            "ordering": ["lost_at", "pk"],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("found_at__isnull", True)),
                    fields=("copy",),
                    name="lost_copy_is_in_one_case",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("found_at__isnull", True),
                        ("found_at__gte", models.F("lost_at")),
                        _connector="OR",
                    ),
                    name="lost_copy_is_found_after_it_was_lost",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="RekeyPlan",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("ordinal", models.PositiveSmallIntegerField()),
            ("kind", models.CharField(max_length=30)),
            ("label", models.CharField(max_length=120)),
            ("figures", models.JSONField(default=dict)),
            ("secret", models.BinaryField(null=True)),
            ("look", models.PositiveIntegerField()),
            ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("chosen_at", models.DateTimeField(null=True)),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="plans",
                    to="losses.losscase",
                ),
            ),
            (
                "chosen_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "made_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
        ],
        options={
            "ordering": ["case", "ordinal"],
            "constraints": [
                models.UniqueConstraint(fields=("case", "ordinal"), name="rekey_plan_has_its_own_place"),
                models.UniqueConstraint(
                    condition=models.Q(("chosen_at__isnull", False)),
                    fields=("case",),
                    name="loss_case_has_one_chosen_plan",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("chosen_at__isnull", True), ("chosen_by__isnull", True)),
                        models.Q(("chosen_at__isnull", False), ("chosen_by__isnull", False)),
                        _connector="OR",
                    ),
                    name="rekey_plan_choice_says_who_and_when",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="CaseOrder",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "order",
                models.OneToOneField(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="case_order",
                    to="orders.workorder",
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="case_orders",
                    to="losses.losscase",
                ),
            ),
            (
                "plan",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="case_orders",
                    to="losses.rekeyplan",
                ),
            ),
        ],
        options={
            "ordering": ["case", "order__number"],
        },
    ),
    migrations.CreateModel(
        name="WorkRates",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("minutes_per_core", models.PositiveSmallIntegerField(default=12)),
            ("minutes_per_visit", models.PositiveSmallIntegerField(default=30)),
            ("cores_per_visit", models.PositiveSmallIntegerField(default=20)),
            ("minutes_per_key", models.PositiveSmallIntegerField(default=3)),
            ("money_per_hour", models.PositiveIntegerField(default=6000)),
            ("money_per_blank", models.PositiveIntegerField(default=250)),
            ("money_per_pin", models.PositiveIntegerField(default=5)),
            ("currency", models.CharField(default="EUR", max_length=3)),
            ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("version", models.PositiveIntegerField(default=1)),
            (
                "changed_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "site",
                models.OneToOneField(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="work_rates",
                    to="places.site",
                ),
            ),
        ],
        options={
            "verbose_name_plural": "work rates",
            "ordering": ["site__code"],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("cores_per_visit__gte", 1)), name="work_rates_visit_takes_a_core"
                ),
                models.CheckConstraint(
                    condition=models.Q(("currency", ""), _negated=True),
                    name="work_rates_name_their_currency",
                ),
            ],
        },
    ),
]
