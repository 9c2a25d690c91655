"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="CountCase",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "kind",
                models.CharField(
                    choices=[
                        ("missing", "Missing"),
                        ("misplaced", "Found where it should not be"),
                        ("unknown", "Unknown serial"),
                        ("lost-found", "A lost copy was found"),
                        ("destroyed-found", "A destroyed copy was found"),
                    ],
                    max_length=16,
                ),
            ),
            ("serial", models.CharField(max_length=40)),
            ("is_declared", models.BooleanField(default=False)),
            ("is_weighty", models.BooleanField(default=False)),
            ("opened_at", models.DateTimeField(default=django.utils.timezone.now)),
            (
                "state",
                models.CharField(
                    choices=[("open", "Open"), ("explained", "Explained"), ("closed", "Closed")],
                    default="open",
                    max_length=10,
                ),
            ),
            (
                "how",
                models.CharField(
                    blank=True,
                    choices=[
                        ("overlooked", "It was there and was overlooked"),
                        ("moved", "The register follows: move it to the cabinet"),
                        ("returned", "The register follows: take it back into the cabinet"),
                        ("found", "The register follows: take the lost copy into the cabinet"),
                        ("put-back", "It was put back where the register has it"),
                        ("lost", "It is gone: report it lost"),
                        ("desk", "Set right at the desk by an act of its own"),
                        ("not-ours", "No key of this site, or misread"),
                        ("destroyed-now", "It was destroyed again, before two people"),
                    ],
                    max_length=14,
                ),
            ),
            ("note", models.CharField(blank=True, max_length=400)),
            ("explained_at", models.DateTimeField(null=True)),
            ("closed_at", models.DateTimeField(null=True)),
            ("version", models.PositiveIntegerField(default=1)),
            (
                "cabinet",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.cabinet",
                ),
            ),
            (
                "closed_by",
                models.ForeignKey(
                    null=True,
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
                    related_name="count_cases",
                    to="keys.keycopy",
                ),
            ),
            (
                "count",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="cases", to="counts.count"
                ),
            ),
            (
                "counted_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "explained_by",
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
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.holder",
                ),
            ),
        ],
        options={
            "ordering": ["opened_at", "serial"],
            # Differences that wait for somebody, the oldest first.
            "indexes": [models.Index(fields=["state", "opened_at"], name="count_case_by_state")],
            "constraints": [
                models.UniqueConstraint(
                    fields=("count", "serial", "kind"), name="count_differs_about_a_serial_once"
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("explained_at__isnull", True),
                            ("explained_by__isnull", True),
                            ("how", ""),
                            ("state", "open"),
                        ),
                        models.Q(
                            ("explained_at__isnull", False),
                            ("explained_by__isnull", False),
                            ("state__in", ["explained", "closed"]),
                            models.Q(("how", ""), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="count_case_explanation_says_how_and_by_whom",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("closed_at__isnull", True),
                            ("closed_by__isnull", True),
                            ("state__in", ["open", "explained"]),
                        ),
                        models.Q(
                            ("closed_at__isnull", False),
                            ("closed_by__isnull", False),
                            ("state", "closed"),
                        ),
                        _connector="OR",
                    ),
                    name="count_case_closing_says_who_and_when",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("is_weighty", False),
                        models.Q(("closed_by", models.F("counted_by")), _negated=True),
                        _connector="OR",
                    ),
                    name="who_counted_does_not_close_a_weighty_case",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("copy__isnull", True), ("kind", "unknown")),
                        models.Q(models.Q(("kind", "unknown"), _negated=True), ("copy__isnull", False)),
                        _connector="OR",
                    ),
                    name="count_case_names_a_copy_that_is_known",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="CountExpected",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("copy_version", models.PositiveIntegerField()),
            (
                "cabinet",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.cabinet",
                ),
            ),
            (
                "copy",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="keys.keycopy"
                ),
            ),
            (
                "count",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="expected",
                    to="counts.count",
                ),
            ),
            (
                "holder",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.holder",
                ),
            ),
        ],
        options={
            "ordering": ["copy__serial"],
            "constraints": [
                models.UniqueConstraint(fields=("count", "copy"), name="count_expects_a_copy_once")
            ],
        },
    ),
]
