"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="LossProof",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("asked_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("finished_at", models.DateTimeField(null=True)),
            ("keys", models.PositiveIntegerField(default=0)),
            ("cores", models.PositiveIntegerField(default=0)),
            ("sites", models.PositiveIntegerField(default=0)),
            ("unknown", models.PositiveIntegerField(default=0)),
            ("left", models.PositiveIntegerField(default=0)),
            ("digest", models.CharField(blank=True, max_length=64)),
            ("confirmed_at", models.DateTimeField(null=True)),
            (
                "asked_by",
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
                    related_name="proofs",
                    to="losses.losscase",
                ),
            ),
            (
                "job",
                models.OneToOneField(
                    null=True,
                    on_delete=django.db.models.deletion.SET_NULL,
                    related_name="loss_proof",
                    to="jobs.job",
                ),
            ),
        ],
        options={
            "ordering": ["-asked_at", "-pk"],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("digest", ""), ("finished_at__isnull", True)),
                        models.Q(("finished_at__isnull", False), models.Q(("digest", ""), _negated=True)),
                        _connector="OR",
                    ),
                    name="loss_proof_that_ended_says_what_it_read",
                ),
                models.CheckConstraint(
                    condition=models.Q(("left__lte", models.F("cores"))),
                    name="loss_proof_leaves_no_more_than_it_read",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="LeftOver",
        fields=[
            (
                "id",
                models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID"),
            ),
            ("whereabouts", models.CharField(max_length=200)),
            ("operates", models.BooleanField()),
            ("withdraws", models.BooleanField()),
            (
                "core",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="+", to="cores.core"
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="places.site"
                ),
            ),
            (
                "symbol",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="systems.keysymbol"
                ),
            ),
            (
                "proof",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="left_overs",
                    to="losses.lossproof",
                ),
            ),
        ],
        options={
            "ordering": ["proof", "whereabouts", "pk"],
            "constraints": [
                models.UniqueConstraint(
                    fields=("proof", "core", "symbol"), name="left_over_core_is_told_once_for_a_key"
                ),
                models.CheckConstraint(
                    condition=models.Q(("operates", True), ("withdraws", True), _connector="OR"),
                    name="left_over_core_has_an_effect",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="LossReport",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("reported_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("where", models.CharField(blank=True, max_length=200)),
            ("last_seen", models.CharField(blank=True, max_length=120)),
            ("police_number", models.CharField(blank=True, max_length=60)),
            ("told", models.CharField(blank=True, max_length=200)),
            ("note", models.CharField(blank=True, max_length=400)),
            (
                "state",
                models.CharField(
                    choices=[
                        ("waiting", "Waits for the desk"),
                        ("confirmed", "Confirmed"),
                        ("refused", "Not a loss"),
                    ],
                    default="waiting",
                    max_length=9,
                ),
            ),
            ("decided_at", models.DateTimeField(null=True)),
            ("answer", models.CharField(blank=True, max_length=400)),
            (
                "case",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="reports",
                    to="losses.losscase",
                ),
            ),
            (
                "copy",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="loss_reports",
                    to="keys.keycopy",
                ),
            ),
            (
                "decided_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "holder",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="loss_reports",
                    to="keys.holder",
                ),
            ),
            (
                "reported_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
        ],
        options={
            "ordering": ["-reported_at", "pk"],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("state", "waiting")),
                    fields=("copy",),
                    name="loss_of_a_copy_is_reported_once",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("decided_at__isnull", True),
                            ("decided_by__isnull", True),
                            ("state", "waiting"),
                        ),
                        models.Q(
                            ("decided_at__isnull", False),
                            ("decided_by__isnull", False),
                            ("state__in", ["confirmed", "refused"]),
                        ),
                        _connector="OR",
                    ),
                    name="loss_report_decision_says_who_and_when",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("decided_by__isnull", True),
                        models.Q(("decided_by", models.F("reported_by")), _negated=True),
                        _connector="OR",
                    ),
                    name="nobody_confirms_their_own_loss",
                ),
                models.CheckConstraint(
                    condition=models.Q(("case__isnull", True), ("state", "confirmed"), _connector="OR"),
                    name="loss_report_leads_to_a_case_once_confirmed",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="LossRule",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "door_class",
                models.CharField(
                    choices=[
                        ("ordinary", "Ordinary"),
                        ("restricted", "Restricted"),
                        ("critical", "Critical"),
                    ],
                    max_length=12,
                ),
            ),
            ("share", models.PositiveSmallIntegerField()),
            ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
            (
                "changed_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="loss_rules",
                    to="places.site",
                ),
            ),
        ],
        options={
            "ordering": ["site__code", "door_class"],
            "constraints": [
                models.UniqueConstraint(
                    fields=("site", "door_class"), name="loss_rule_is_set_once_for_a_door_class"
                ),
                models.CheckConstraint(
                    condition=models.Q(("share__lte", 1000)), name="loss_rule_share_is_at_most_all"
                ),
            ],
        },
    ),
]
