"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="Device",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("name", models.CharField(max_length=60)),
            ("digest", models.CharField(max_length=64)),
            ("registered_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("withdrawn_at", models.DateTimeField(null=True)),
            ("withdrawn_reason", models.CharField(blank=True, max_length=200)),
            ("seen_at", models.DateTimeField(null=True)),
            ("unsent", models.PositiveIntegerField(default=0)),
            ("skew_seconds", models.IntegerField(null=True)),
            ("last_sequence", models.PositiveIntegerField(default=0)),
            (
                "owner",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="devices",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="devices", to="places.site"
                ),
            ),
            (
                "withdrawn_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
        ],
        options={
            "ordering": ["name", "registered_at"],
            "indexes": [
                # The tablets of a site that are in use.
                models.Index(fields=["site", "withdrawn_at"], name="device_by_site"),
            ],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("name", ""), _negated=True), name="device_has_a_name"
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("withdrawn_at__isnull", True),
                            ("withdrawn_by__isnull", True),
                            ("withdrawn_reason", ""),
                        ),
                        models.Q(
                            ("withdrawn_at__isnull", False),
                            ("withdrawn_by__isnull", False),
                            models.Q(("withdrawn_reason", ""), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="device_withdrawn_says_by_whom_and_why",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="ReconcileCase",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("number", models.PositiveIntegerField()),
            (
                "state",
                models.CharField(
                    choices=[
                        ("open", "Open"),
                        ("settled", "Settled"),
                        ("merged", "Goes on in another case"),
                    ],
                    default="open",
                    max_length=8,
                ),
            ),
            ("opened_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("settled_at", models.DateTimeField(null=True)),
            ("note", models.CharField(blank=True, max_length=400)),
            (
                "merged_into",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="merged",
                    to="field.reconcilecase",
                ),
            ),
            (
                "settled_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="reconcile_cases",
                    to="places.site",
                ),
            ),
        ],
        options={
            "ordering": ["-number"],
            "indexes": [
                # Contradictions at a site that are open, newest first.
                models.Index(fields=["site", "state", "-number"], name="reconcile_case_by_state"),
            ],
            "constraints": [
                models.UniqueConstraint(fields=("number",), name="reconcile_case_number_is_unique"),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("note", ""),
                            ("settled_at__isnull", True),
                            ("settled_by__isnull", True),
                            ("state", "open"),
                        ),
                        models.Q(
                            ("note", ""),
                            ("settled_at__isnull", True),
                            ("settled_by__isnull", True),
                            ("state", "merged"),
                        ),
                        models.Q(
                            ("settled_at__isnull", False),
                            ("settled_by__isnull", False),
                            ("state", "settled"),
                            models.Q(("note", ""), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="reconcile_case_settled_says_by_whom_and_why",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("merged_into__isnull", False), ("state", "merged")),
                        models.Q(models.Q(("state", "merged"), _negated=True), ("merged_into__isnull", True)),
                        _connector="OR",
                    ),
                    name="reconcile_case_merged_says_into_which",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="FieldEvent",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("sequence", models.PositiveIntegerField()),
            (
                "kind",
                models.CharField(
                    choices=[
                        ("swapped", "Core swapped"),
                        ("put", "Core put away"),
                        ("found", "Core found"),
                        ("unreached", "Door not reached"),
                        ("checked", "Checklist"),
                        ("noted", "Note"),
                        ("photographed", "Photo"),
                    ],
                    max_length=14,
                ),
            ),
            ("claimed_at", models.DateTimeField()),
            ("body", models.JSONField(default=dict)),
            ("digest", models.CharField(max_length=64)),
            (
                "via",
                models.CharField(
                    choices=[("tablet", "Sent by the tablet"), ("file", "Handed in")], max_length=8
                ),
            ),
            ("received_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("skew_seconds", models.IntegerField(null=True)),
            (
                "outcome",
                models.CharField(
                    choices=[
                        ("applied", "Applied"),
                        ("accepted_with_conflict", "Recorded, with a conflict"),
                    ],
                    max_length=24,
                ),
            ),
            ("reason", models.CharField(blank=True, max_length=600)),
            (
                "quarantine",
                models.CharField(
                    blank=True,
                    choices=[
                        ("", "None"),
                        ("waiting", "Waits"),
                        ("taken-in", "Taken in"),
                        ("set-aside", "Set aside"),
                    ],
                    default="",
                    max_length=10,
                ),
            ),
            ("later_outcome", models.CharField(blank=True, default="", max_length=24)),
            ("later_reason", models.CharField(blank=True, default="", max_length=600)),
            ("decided_at", models.DateTimeField(null=True)),
            ("forgotten_at", models.DateTimeField(null=True)),
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
                "device",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="events",
                    to="field.device",
                ),
            ),
            (
                "person",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
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
            (
                "case",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="events",
                    to="field.reconcilecase",
                ),
            ),
        ],
        options={
            "ordering": ["-received_at", "-sequence"],
            "indexes": [
                # What a tablet told, in its own order.
                models.Index(fields=["device", "sequence"], name="field_event_by_sequence"),
                # Events of withdrawn tablets that wait for a decision.
                models.Index(fields=["quarantine", "received_at"], name="field_event_by_quarantine"),
                # Events whose words are old enough to be forgotten.
                models.Index(
                    condition=models.Q(("forgotten_at__isnull", True)),
                    fields=["received_at"],
                    name="field_event_to_forget",
                ),
            ],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("outcome__in", ["applied", "accepted_with_conflict"])),
                    name="field_event_has_an_outcome",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("decided_at__isnull", True),
                            ("decided_by__isnull", True),
                            ("quarantine__in", ["", "waiting"]),
                        ),
                        models.Q(
                            ("decided_at__isnull", False),
                            ("decided_by__isnull", False),
                            ("quarantine__in", ["taken-in", "set-aside"]),
                        ),
                        _connector="OR",
                    ),
                    name="field_event_out_of_quarantine_says_by_whom",
                ),
                models.CheckConstraint(
                    condition=models.Q(("sequence__gte", 1)), name="field_event_counts_from_one"
                ),
            ],
        },
    ),
]
