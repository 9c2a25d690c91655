import uuid

import django.db.models.deletion
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
            name="Core",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("tag", models.CharField(default=keyctl.lib.tags.new_tag, max_length=16)),
                ("format_id", models.CharField(max_length=40)),
                ("construction", models.CharField(max_length=30)),
                (
                    "place",
                    models.CharField(
                        choices=[
                            ("housing", "In a housing"),
                            ("shelf", "On the shelf"),
                            ("bench", "On the bench"),
                            ("case", "In a person's case"),
                            ("gone", "Gone"),
                        ],
                        default="shelf",
                        max_length=8,
                    ),
                ),
                ("pinning", models.BinaryField(null=True)),
                ("pinned_at", models.DateTimeField(null=True)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "carrier",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "housing",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cores",
                        to="places.housing",
                    ),
                ),
                (
                    "pinned_by",
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
                        on_delete=django.db.models.deletion.PROTECT, related_name="cores", to="places.site"
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cores",
                        to="systems.keysystem",
                    ),
                ),
            ],
            options={
                "ordering": ["tag"],
                "indexes": [
                    # Cores of a site at the bench, in stock or in doors.
                    models.Index(fields=["site", "place"], name="core_by_place"),
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("tag",), name="core_tag_is_unique"),
                    models.UniqueConstraint(
                        condition=models.Q(("housing__isnull", False)),
                        fields=("housing",),
                        name="housing_holds_at_most_one_core",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("carrier__isnull", True), ("housing__isnull", False), ("place", "housing")
                            ),
                            models.Q(
                                ("carrier__isnull", False), ("housing__isnull", True), ("place", "case")
                            ),
                            models.Q(
                                ("carrier__isnull", True),
                                ("housing__isnull", True),
                                ("place__in", ["shelf", "bench", "gone"]),
                            ),
                            _connector="OR",
                        ),
                        name="core_is_in_exactly_one_place",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("pinned_at__isnull", True),
                                ("pinned_by__isnull", True),
                                ("pinning__isnull", True),
                            ),
                            models.Q(
                                ("pinned_at__isnull", False),
                                ("pinned_by__isnull", False),
                                ("pinning__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="core_pinning_says_who_and_when",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Keying",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "core",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="keyings", to="cores.core"
                    ),
                ),
                (
                    "symbol",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="keyings",
                        to="systems.keysymbol",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("core", "symbol"), name="core_is_keyed_to_a_symbol_once"),
                ],
            },
        ),
        migrations.AddField(
            model_name="core",
            name="keyed_to",
            field=models.ManyToManyField(
                related_name="cores", through="cores.Keying", to="systems.keysymbol"
            ),
        ),
        migrations.CreateModel(
            name="Turn",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("operates", models.BooleanField()),
                ("withdraws", models.BooleanField()),
                (
                    "core",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="turns", to="cores.core"
                    ),
                ),
                (
                    "symbol",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="turns",
                        to="systems.keysymbol",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("core", "symbol"), name="turn_is_stored_once"),
                    models.CheckConstraint(
                        condition=models.Q(("operates", True), ("withdraws", True), _connector="OR"),
                        name="turn_has_an_effect",
                    ),
                ],
            },
        ),
    ]
