"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="ControlBlank",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("keyway", models.CharField(max_length=20)),
            ("count", models.IntegerField(default=0)),
            ("version", models.PositiveIntegerField(default=1)),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="control_blanks",
                    to="places.site",
                ),
            ),
        ],
        options={
            "ordering": ["site__code", "keyway"],
            "constraints": [
                models.UniqueConstraint(
                    fields=("site", "keyway"), name="control_blank_is_registered_once_a_site"
                ),
                models.CheckConstraint(
                    condition=models.Q(("count__gte", 0)), name="control_blanks_are_not_below_none"
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="ControlKeyCase",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "way",
                models.CharField(
                    choices=[
                        ("decode", "Decode two cores"),
                        ("copy-to-blank", "Copy a working key onto a control blank"),
                        ("open-shackle", "Through the open shackle"),
                        ("none", "There is no control key"),
                    ],
                    max_length=14,
                ),
            ),
            ("note", models.CharField(max_length=400)),
            ("opened_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("findings", models.BinaryField(null=True)),
            (
                "state",
                models.CharField(
                    choices=[("open", "Open"), ("closed", "Closed"), ("cancelled", "Cancelled")],
                    default="open",
                    max_length=10,
                ),
            ),
            ("closed_at", models.DateTimeField(null=True)),
            ("outcome", models.CharField(blank=True, max_length=400)),
            ("version", models.PositiveIntegerField(default=1)),
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
                "core",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="control_key_cases",
                    to="cores.core",
                ),
            ),
            (
                "opened_by",
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
                    related_name="control_key_cases",
                    to="places.site",
                ),
            ),
            (
                "symbol",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="control_key_cases",
                    to="systems.keysymbol",
                ),
            ),
            (
                "system",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="control_key_cases",
                    to="systems.keysystem",
                ),
            ),
        ],
        options={
            "ordering": ["-opened_at"],
            "indexes": [
                # Cases of lost control keys at a site.
                models.Index(fields=["site", "state", "-opened_at"], name="control_key_case_by_state"),
            ],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("state", "open")),
                    fields=("site", "system"),
                    name="control_key_case_is_open_once",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("closed_at__isnull", True),
                            ("closed_by__isnull", True),
                            ("outcome", ""),
                            ("state", "open"),
                        ),
                        models.Q(
                            ("closed_at__isnull", False),
                            ("closed_by__isnull", False),
                            ("state__in", ["closed", "cancelled"]),
                            models.Q(("outcome", ""), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="control_key_case_end_says_who_and_what",
                ),
                models.CheckConstraint(
                    condition=models.Q(("findings__isnull", True), ("way", "decode"), _connector="OR"),
                    name="control_key_case_finds_cuts_only_by_decoding",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("symbol__isnull", True),
                        models.Q(("core__isnull", False), ("way", "copy-to-blank")),
                        _connector="OR",
                    ),
                    name="control_key_case_copies_a_key_of_its_core",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="ControlBlankMove",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "kind",
                models.CharField(
                    choices=[
                        ("received", "Received"),
                        ("cut", "Cut"),
                        ("scrapped", "Scrapped"),
                        ("counted", "Counted"),
                    ],
                    max_length=8,
                ),
            ),
            ("change", models.IntegerField()),
            ("left", models.IntegerField()),
            ("at", models.DateTimeField(default=django.utils.timezone.now)),
            ("note", models.CharField(blank=True, max_length=200)),
            (
                "blank",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="moves",
                    to="recovery.controlblank",
                ),
            ),
            (
                "by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "symbol",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="control_blanks",
                    to="systems.keysymbol",
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="blanks",
                    to="recovery.controlkeycase",
                ),
            ),
        ],
        options={
            "ordering": ["-at"],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("left__gte", 0)), name="control_blank_move_leaves_none_or_more"
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("case__isnull", True),
                            ("change__gt", 0),
                            ("kind", "received"),
                            ("symbol__isnull", True),
                        ),
                        models.Q(
                            ("case__isnull", False),
                            ("change", -1),
                            ("kind", "cut"),
                            ("symbol__isnull", False),
                        ),
                        models.Q(
                            ("case__isnull", True),
                            ("change__lt", 0),
                            ("kind", "scrapped"),
                            ("symbol__isnull", True),
                        ),
                        models.Q(("case__isnull", True), ("kind", "counted"), ("symbol__isnull", True)),
                        _connector="OR",
                    ),
                    name="control_blank_move_changes_as_its_kind_says",
                ),
            ],
        },
    ),
]
