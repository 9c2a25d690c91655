import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

import keyctl.lib.tags


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("places", "0001_initial"),
        ("systems", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Cabinet",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("name", models.CharField(max_length=60)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cabinets", to="places.site"
                    ),
                ),
            ],
            options={
                "ordering": ["site__code", "name"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("site", "name"), name="cabinet_name_is_unique_in_its_site"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Holder",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("name", models.CharField(max_length=120)),
                ("email", models.EmailField(blank=True, max_length=254)),
                ("is_active", models.BooleanField(default=True)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="holders", to="places.site"
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="holders",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("user__isnull", False)),
                        fields=("site", "user"),
                        name="holder_stands_for_a_user_once_a_site",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="KeyCopy",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("serial", models.CharField(default=keyctl.lib.tags.new_tag, max_length=16)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("held", "With a holder"),
                            ("in-cabinet", "In a cabinet"),
                            ("lost", "Lost"),
                            ("destroyed", "Destroyed"),
                        ],
                        max_length=12,
                    ),
                ),
                ("cut_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "cabinet",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="copies",
                        to="keys.cabinet",
                    ),
                ),
                (
                    "holder",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="copies",
                        to="keys.holder",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="key_copies",
                        to="places.site",
                    ),
                ),
                (
                    "symbol",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="copies",
                        to="systems.keysymbol",
                    ),
                ),
            ],
            options={
                "ordering": ["serial"],
                "indexes": [
                    # Copies of a site in cabinets, out or lost; the law's counts.
                    models.Index(fields=["site", "state"], name="key_copy_by_state"),
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("serial",), name="key_copy_serial_is_unique"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("cabinet__isnull", True), ("holder__isnull", False), ("state", "held")),
                            models.Q(
                                ("cabinet__isnull", False), ("holder__isnull", True), ("state", "in-cabinet")
                            ),
                            models.Q(
                                ("cabinet__isnull", True),
                                ("holder__isnull", True),
                                ("state__in", ["lost", "destroyed"]),
                            ),
                            _connector="OR",
                        ),
                        name="key_copy_is_in_exactly_one_state",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Custody",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("out_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("signed_as", models.CharField(blank=True, max_length=120)),
                ("due_on", models.DateField(null=True)),
                ("ended_at", models.DateTimeField(null=True)),
                (
                    "ended_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "handed_out_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "holder",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="custodies",
                        to="keys.holder",
                    ),
                ),
                (
                    "copy",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="custodies",
                        to="keys.keycopy",
                    ),
                ),
            ],
            options={
                "ordering": ["-out_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at__isnull", True)),
                        fields=("copy",),
                        name="key_copy_is_out_with_one_holder",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at__isnull", True), ("ended_by__isnull", True)),
                            models.Q(("ended_at__isnull", False), ("ended_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="custody_end_says_who",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ended_at__isnull", True), ("ended_at__gte", models.F("out_at")), _connector="OR"
                        ),
                        name="custody_ends_after_it_began",
                    ),
                ],
            },
        ),
    ]
