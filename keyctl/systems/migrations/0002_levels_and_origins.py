import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("places", "0001_initial"),
        ("systems", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="keysystem",
            name="key_system_has_one_to_four_levels",
        ),
        migrations.AddField(
            model_name="keysymbol",
            name="created_at",
            field=models.DateTimeField(default=django.utils.timezone.now),
        ),
        migrations.AddField(
            model_name="keysymbol",
            name="origin",
            field=models.CharField(
                choices=[
                    ("designed", "Designed with the system"),
                    ("extended", "Next free change"),
                    ("brought-in", "Brought in from a list"),
                    ("charted", "Worked out from a lock chart"),
                ],
                default="designed",
                max_length=12,
            ),
        ),
        migrations.AddField(
            model_name="keysymbol",
            name="room",
            field=models.PositiveBigIntegerField(null=True),
        ),
        migrations.AlterField(
            model_name="keysystem",
            name="design",
            field=models.BinaryField(null=True),
        ),
        migrations.AddConstraint(
            model_name="keysystem",
            constraint=models.CheckConstraint(
                condition=models.Q(("levels__gte", 1), ("levels__lte", 6)),
                name="key_system_has_one_to_six_levels",
            ),
        ),
        migrations.CreateModel(
            name="SystemDraft",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("code", models.CharField(max_length=20)),
                ("name", models.CharField(max_length=120)),
                ("format_id", models.CharField(max_length=40)),
                ("keyway", models.CharField(max_length=20)),
                ("needs", models.JSONField()),
                ("rooms", models.JSONField()),
                ("facts", models.JSONField()),
                ("asked", models.BinaryField()),
                ("design", models.BinaryField()),
                ("created_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("made_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["-created_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("made_at__isnull", True)),
                        fields=("code",),
                        name="open_draft_has_its_own_code",
                    ),
                ],
            },
        ),
        migrations.RemoveConstraint(
            model_name="keysymbol",
            name="key_symbol_has_its_own_place_under_its_parent",
        ),
        migrations.AddConstraint(
            model_name="keysymbol",
            constraint=models.UniqueConstraint(
                condition=models.Q(("parent__isnull", False)),
                fields=("parent", "kind", "ordinal"),
                name="key_symbol_has_its_own_place_under_its_parent",
            ),
        ),
        migrations.AddField(
            model_name="systemdraft",
            name="created_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="systemdraft",
            name="sites",
            field=models.ManyToManyField(related_name="system_drafts", to="places.site"),
        ),
        migrations.AddField(
            model_name="systemdraft",
            name="system",
            field=models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="draft",
                to="systems.keysystem",
            ),
        ),
        migrations.AddConstraint(
            model_name="systemdraft",
            constraint=models.CheckConstraint(
                condition=models.Q(("made_at__isnull", True), ("system__isnull", False), _connector="OR"),
                name="made_draft_has_its_system",
            ),
        ),
    ]
