import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("keys", "0001_initial"),
        ("places", "0001_initial"),
        ("systems", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="KeyRequest",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("reason", models.CharField(max_length=400)),
                ("needed_until", models.DateField(null=True)),
                ("asked_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("asked", "Waiting for a decision"),
                            ("approved", "Waiting at the desk"),
                            ("handed-out", "Handed out"),
                            ("refused", "Refused"),
                            ("withdrawn", "Withdrawn"),
                        ],
                        default="asked",
                        max_length=12,
                    ),
                ),
                ("decided_at", models.DateTimeField(null=True)),
                ("decision_note", models.CharField(blank=True, max_length=400)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "building",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="key_requests",
                        to="places.building",
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
                ("doors", models.ManyToManyField(related_name="key_requests", to="places.door")),
                (
                    "holder",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="key_requests",
                        to="keys.holder",
                    ),
                ),
                (
                    "holder_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "requester",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="key_requests",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-asked_at"],
                "indexes": [
                    # Requests for keys of a building, by state.
                    models.Index(fields=["building", "state", "-asked_at"], name="key_request_by_state"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("decided_by", models.F("requester")), _negated=True),
                        name="nobody_decides_their_own_request",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("decided_by", models.F("holder_user")), _negated=True),
                        name="nobody_decides_a_key_for_themselves",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("decided_at__isnull", True),
                                ("decided_by__isnull", True),
                                ("state__in", ["asked", "withdrawn"]),
                            ),
                            models.Q(
                                ("decided_at__isnull", False),
                                ("decided_by__isnull", False),
                                ("state__in", ["approved", "handed-out", "refused"]),
                            ),
                            _connector="OR",
                        ),
                        name="key_request_decision_says_who_and_when",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Grant",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("is_master", models.BooleanField()),
                (
                    "approved_by",
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
                        related_name="grants",
                        to="keys.keycopy",
                    ),
                ),
                (
                    "handed_out_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "symbol",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="grants",
                        to="systems.keysymbol",
                    ),
                ),
                (
                    "request",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="grants",
                        to="approvals.keyrequest",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("request", "symbol"), name="request_grants_a_key_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("copy__isnull", True), ("handed_out_by__isnull", True)),
                            models.Q(("copy__isnull", False), ("handed_out_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="grant_says_which_copy_and_by_whom",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("is_master", False),
                            ("handed_out_by__isnull", True),
                            models.Q(("handed_out_by", models.F("approved_by")), _negated=True),
                            _connector="OR",
                        ),
                        name="who_approves_a_master_does_not_hand_it_out",
                    ),
                ],
            },
        ),
    ]
