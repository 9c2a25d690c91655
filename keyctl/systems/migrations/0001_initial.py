import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("places", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="KeySystem",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("code", models.CharField(max_length=20)),
                ("name", models.CharField(max_length=120)),
                ("format_id", models.CharField(max_length=40)),
                ("keyway", models.CharField(max_length=20)),
                ("levels", models.PositiveSmallIntegerField()),
                ("design", models.BinaryField()),
                ("created_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "created_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("sites", models.ManyToManyField(related_name="key_systems", to="places.site")),
            ],
            options={
                "ordering": ["code"],
                "constraints": [
                    models.UniqueConstraint(fields=("code",), name="key_system_code_is_unique"),
                    models.CheckConstraint(
                        condition=models.Q(("levels__gte", 1), ("levels__lte", 4)),
                        name="key_system_has_one_to_four_levels",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="KeySymbol",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("master", "Master key"),
                            ("change", "Change key"),
                            ("control", "Control key"),
                        ],
                        max_length=10,
                    ),
                ),
                ("symbol", models.CharField(max_length=20)),
                ("level", models.PositiveSmallIntegerField(null=True)),
                ("ordinal", models.PositiveIntegerField(default=0)),
                ("bitting", models.BinaryField()),
                ("fingerprint", models.CharField(max_length=64)),
                (
                    "parent",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="children",
                        to="systems.keysymbol",
                    ),
                ),
                (
                    "system",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="symbols",
                        to="systems.keysystem",
                    ),
                ),
            ],
            options={
                "ordering": ["system__code", "level", "ordinal", "symbol"],
                "indexes": [
                    # The tree of a key system, level by level.
                    models.Index(fields=["system", "level", "ordinal"], name="symbol_by_level"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("system", "symbol"), name="key_symbol_is_unique_in_its_system"
                    ),
                    models.UniqueConstraint(
                        fields=("system", "kind", "fingerprint"), name="key_symbol_has_its_own_bitting"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("parent__isnull", False)),
                        fields=("parent", "ordinal"),
                        name="key_symbol_has_its_own_place_under_its_parent",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "control"), ("level__isnull", True), ("parent__isnull", True)),
                            models.Q(
                                ("kind__in", ["master", "change"]), ("level", 0), ("parent__isnull", True)
                            ),
                            models.Q(
                                ("kind__in", ["master", "change"]),
                                ("level__gt", 0),
                                ("parent__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="key_symbol_stands_in_the_tree",
                    ),
                ],
            },
        ),
    ]
