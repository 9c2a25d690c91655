"""A part of 0002_handovers: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.db.models.functions.text
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.RemoveConstraint(
        model_name="custody",
        name="custody_end_says_who",
    ),
    migrations.RemoveConstraint(
        model_name="keycopy",
        name="key_copy_is_in_exactly_one_state",
    ),
    migrations.CreateModel(
        name="Deposit",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("amount", models.PositiveIntegerField()),
            ("currency", models.CharField(max_length=3)),
            (
                "state",
                models.CharField(
                    choices=[("taken", "Taken"), ("given-back", "Given back"), ("kept", "Kept")],
                    default="taken",
                    max_length=10,
                ),
            ),
            ("settled_at", models.DateTimeField(null=True)),
            ("reason", models.CharField(blank=True, max_length=400)),
        ],
        options={
            "ordering": ["-handover__at"],
        },
    ),
    migrations.CreateModel(
        name="DeskSettings",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("staff_days", models.PositiveSmallIntegerField(blank=True, null=True)),
            ("student_days", models.PositiveSmallIntegerField(blank=True, null=True)),
            ("contractor_hours", models.PositiveSmallIntegerField(blank=True, null=True)),
            ("other_days", models.PositiveSmallIntegerField(blank=True, null=True)),
            ("change_deposit", models.PositiveIntegerField(default=0)),
            ("master_deposit", models.PositiveIntegerField(default=0)),
            ("top_deposit", models.PositiveIntegerField(default=0)),
            ("control_deposit", models.PositiveIntegerField(default=0)),
            ("currency", models.CharField(default="USD", max_length=3)),
            (
                "stamping",
                models.CharField(
                    choices=[
                        ("serial", "The serial only"),
                        ("free", "A text of ours that names no key and no door"),
                        ("any", "Any text"),
                    ],
                    default="serial",
                    max_length=8,
                ),
            ),
            ("last_number", models.PositiveIntegerField(default=0)),
            ("version", models.PositiveIntegerField(default=1)),
        ],
        options={
            "verbose_name_plural": "desk settings",
        },
    ),
    migrations.CreateModel(
        name="Handover",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("number", models.PositiveIntegerField()),
            (
                "way",
                models.CharField(
                    choices=[("out", "Handed out"), ("back", "Returned"), ("transfer", "Transferred")],
                    max_length=8,
                ),
            ),
            ("at", models.DateTimeField(default=django.utils.timezone.now)),
            ("signed_as", models.CharField(blank=True, max_length=120)),
            (
                "sign_way",
                models.CharField(
                    choices=[("drawn", "Drawn"), ("typed", "Name typed"), ("none", "Not signed")],
                    default="none",
                    max_length=6,
                ),
            ),
            ("signature", models.BinaryField(null=True)),
        ],
        options={
            "ordering": ["-at", "-number"],
        },
    ),
    migrations.CreateModel(
        name="Person",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("user_name", models.CharField(blank=True, max_length=150)),
            ("external_id", models.CharField(blank=True, max_length=150)),
            ("display_name", models.CharField(max_length=120)),
            ("email", models.EmailField(blank=True, max_length=254)),
            ("department", models.CharField(blank=True, max_length=120)),
            (
                "kind",
                models.CharField(
                    choices=[
                        ("staff", "Staff"),
                        ("student", "Student"),
                        ("contractor", "Contractor"),
                        ("other", "Other"),
                    ],
                    default="staff",
                    max_length=10,
                ),
            ),
            ("is_active", models.BooleanField(default=True)),
            ("created_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
        ],
        options={
            "ordering": ["display_name"],
        },
    ),
    migrations.CreateModel(
        name="Terms",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("number", models.PositiveIntegerField()),
            ("text", models.TextField()),
            ("sha256", models.CharField(max_length=64)),
            ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
        ],
        options={
            "verbose_name_plural": "terms",
            "ordering": ["site__code", "-number"],
        },
    ),
    migrations.AddField(
        model_name="cabinet",
        name="custodian",
        field=models.ForeignKey(
            blank=True,
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="cabinets",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="custody",
        name="brought_by",
        field=models.CharField(blank=True, max_length=120),
    ),
    migrations.AddField(
        model_name="custody",
        name="condition_back",
        field=models.CharField(blank=True, max_length=200),
    ),
    migrations.AddField(
        model_name="custody",
        name="due_at",
        field=models.DateTimeField(null=True),
    ),
    migrations.AddField(
        model_name="custody",
        name="ending",
        field=models.CharField(
            blank=True,
            choices=[("returned", "Returned"), ("transferred", "Transferred"), ("lost", "Reported lost")],
            max_length=12,
        ),
    ),
    migrations.AddField(
        model_name="holder",
        name="department",
        field=models.CharField(blank=True, max_length=120),
    ),
    migrations.AddField(
        model_name="holder",
        name="kind",
        field=models.CharField(
            choices=[
                ("staff", "Staff"),
                ("student", "Student"),
                ("contractor", "Contractor"),
                ("other", "Other"),
            ],
            default="staff",
            max_length=10,
        ),
    ),
    migrations.AddField(
        model_name="keycopy",
        name="condition",
        field=models.CharField(
            choices=[("sound", "Sound"), ("broken", "Broken")], default="sound", max_length=8
        ),
    ),
    migrations.AddField(
        model_name="keycopy",
        name="custody",
        field=models.OneToOneField(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="copy_out",
            to="keys.custody",
        ),
    ),
    migrations.AddField(
        model_name="keycopy",
        name="stamp",
        field=models.CharField(blank=True, max_length=24),
    ),
    migrations.AddField(
        model_name="deposit",
        name="settled_by",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="+",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="desksettings",
        name="site",
        field=models.OneToOneField(
            on_delete=django.db.models.deletion.PROTECT, related_name="desk_settings", to="places.site"
        ),
    ),
    migrations.AddField(
        model_name="handover",
        name="by",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
        ),
    ),
    migrations.AddField(
        model_name="handover",
        name="holder",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="handovers",
            to="keys.holder",
        ),
    ),
    migrations.AddField(
        model_name="handover",
        name="site",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="handovers", to="places.site"
        ),
    ),
    migrations.AddField(
        model_name="deposit",
        name="handover",
        field=models.OneToOneField(
            on_delete=django.db.models.deletion.PROTECT, related_name="deposit", to="keys.handover"
        ),
    ),
    migrations.AddField(
        model_name="custody",
        name="back_act",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="lines_back",
            to="keys.handover",
        ),
    ),
    migrations.AddField(
        model_name="custody",
        name="out_act",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="lines_out",
            to="keys.handover",
        ),
    ),
    migrations.AddField(
        model_name="person",
        name="user",
        field=models.ForeignKey(
            blank=True,
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="persons",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="holder",
        name="person",
        field=models.ForeignKey(
            blank=True,
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="holders",
            to="keys.person",
        ),
    ),
    migrations.AddField(
        model_name="terms",
        name="made_by",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
        ),
    ),
    migrations.AddField(
        model_name="terms",
        name="site",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="terms", to="places.site"
        ),
    ),
    migrations.AddField(
        model_name="handover",
        name="terms",
        field=models.ForeignKey(
            null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="keys.terms"
        ),
    ),
    migrations.AddField(
        model_name="desksettings",
        name="terms",
        field=models.ForeignKey(
            null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="keys.terms"
        ),
    ),
]
