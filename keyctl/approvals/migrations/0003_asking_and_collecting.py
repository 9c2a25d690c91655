import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("approvals", "0002_steps_and_rules"),
        ("keys", "0002_handovers"),
        ("places", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="RequestSettings",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "critical_doors",
                    models.CharField(
                        choices=[
                            ("held", "Whoever holds a key to it, or whose department does"),
                            ("nobody", "Nobody else"),
                            ("everybody", "Everybody with a role at the site"),
                        ],
                        default="held",
                        max_length=10,
                    ),
                ),
                ("collect_days", models.PositiveSmallIntegerField(default=14)),
                ("collect_at", models.CharField(blank=True, max_length=200)),
                ("names_deciders", models.BooleanField(default=True)),
            ],
            options={
                "verbose_name_plural": "request settings",
                "ordering": ["site__code"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("critical_doors__in", ["held", "nobody", "everybody"])),
                        name="critical_doors_are_known_to_somebody_named",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("collect_days__gte", 1), ("collect_days__lte", 90)),
                        name="keys_lie_ready_for_a_day_at_least",
                    ),
                ],
            },
        ),
        migrations.RemoveConstraint(
            model_name="keyrequest",
            name="key_request_decision_says_who_and_when",
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
                    ("lapsed", "Not collected"),
                ],
                default="asked",
                max_length=12,
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
                        ("state__in", ["approved", "ready", "handed-out", "refused", "withdrawn", "lapsed"]),
                    ),
                    _connector="OR",
                ),
                name="key_request_decision_says_who_and_when",
            ),
        ),
        migrations.AddField(
            model_name="requestsettings",
            name="cabinet",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="keys.cabinet",
            ),
        ),
        migrations.AddField(
            model_name="requestsettings",
            name="site",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.CASCADE, related_name="request_settings", to="places.site"
            ),
        ),
    ]
