"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

import keyctl.lib.tags

OPERATIONS = [
    migrations.CreateModel(
        name="CountScan",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("serial", models.CharField(max_length=40)),
            (
                "way",
                models.CharField(
                    choices=[("sighted", "Seen"), ("declared", "Declared by the holder, not seen")],
                    default="sighted",
                    max_length=10,
                ),
            ),
            ("at", models.DateTimeField(default=django.utils.timezone.now)),
            ("register_state", models.CharField(blank=True, max_length=12)),
            ("undone_at", models.DateTimeField(null=True)),
            (
                "by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "copy",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.keycopy",
                ),
            ),
            (
                "count",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="scans", to="counts.count"
                ),
            ),
            (
                "register_cabinet",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.cabinet",
                ),
            ),
            (
                "register_holder",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.holder",
                ),
            ),
        ],
        options={
            "ordering": ["-at", "-id"],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("undone_at__isnull", True)),
                    fields=("count", "serial", "way"),
                    name="count_takes_a_serial_once",
                ),
                models.CheckConstraint(
                    condition=models.Q(("serial", ""), _negated=True), name="count_scan_has_a_serial"
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="EvidenceReport",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("number", models.CharField(default=keyctl.lib.tags.new_tag, max_length=16)),
            ("from_on", models.DateField()),
            ("until_on", models.DateField()),
            ("asked_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("made_at", models.DateTimeField(null=True)),
            (
                "actor",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "job",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.SET_NULL,
                    related_name="+",
                    to="jobs.job",
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="count_reports",
                    to="places.site",
                ),
            ),
        ],
        options={
            "ordering": ["-asked_at", "number"],
            "constraints": [
                models.UniqueConstraint(fields=("number",), name="evidence_report_number_is_unique"),
                models.CheckConstraint(
                    condition=models.Q(("until_on__gte", models.F("from_on"))),
                    name="evidence_report_ends_after_it_begins",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="CabinetHandover",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("giver_signed_at", models.DateTimeField(null=True)),
            ("taker_signed_at", models.DateTimeField(null=True)),
            ("excuse", models.CharField(blank=True, max_length=200)),
            ("done_at", models.DateTimeField(null=True)),
            (
                "cabinet",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="handovers",
                    to="keys.cabinet",
                ),
            ),
            (
                "excused_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "giver",
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
            (
                "taker",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "count",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="handovers",
                    to="counts.count",
                ),
            ),
        ],
        options={
            "ordering": ["-made_at"],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("giver", models.F("taker")), _negated=True),
                    name="cabinet_is_handed_over_to_somebody_else",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("excuse", ""), ("excused_by__isnull", True)),
                        models.Q(
                            ("excused_by__isnull", False),
                            models.Q(("excuse", ""), _negated=True),
                            models.Q(("excused_by", models.F("giver")), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="cabinet_handover_excuse_says_who_and_why",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("done_at__isnull", True),
                        models.Q(
                            models.Q(
                                ("taker__isnull", True),
                                ("taker_signed_at__isnull", False),
                                _connector="OR",
                            ),
                            models.Q(
                                ("giver__isnull", True),
                                ("giver_signed_at__isnull", False),
                                ("excused_by__isnull", False),
                                _connector="OR",
                            ),
                        ),
                        _connector="OR",
                    ),
                    name="cabinet_handover_ends_signed_by_both",
                ),
            ],
        },
    ),
]
