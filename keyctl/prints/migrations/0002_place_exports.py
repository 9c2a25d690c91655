import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def mark_bitting_lists(apps, schema_editor):  # noqa: ARG001 (Django's signature)
    """Until now, the lists of bittings and nothing else."""
    apps.get_model("prints", "Export").objects.filter(kind="bitting-list").update(holds_bittings=True)


class Migration(migrations.Migration):
    dependencies = [
        ("places", "0001_initial"),
        ("prints", "0001_initial"),
        ("systems", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="export",
            name="building",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="exports",
                to="places.building",
            ),
        ),
        migrations.AddField(
            model_name="export",
            name="holds_bittings",
            field=models.BooleanField(default=False),
        ),
        migrations.AlterField(
            model_name="export",
            name="kind",
            field=models.CharField(
                choices=[
                    ("bitting-list", "Bitting list"),
                    ("keying-schedule", "Keying schedule"),
                    ("door-schedule", "Door schedule"),
                    ("lock-chart", "Lock chart"),
                    ("binder", "Hand-over binder"),
                ],
                max_length=20,
            ),
        ),
        migrations.AlterField(
            model_name="export",
            name="system",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="exports",
                to="systems.keysystem",
            ),
        ),
        migrations.RunPython(mark_bitting_lists, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="export",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("building__isnull", True),
                    ("kind__in", ["bitting-list", "keying-schedule"]),
                    ("system__isnull", False),
                )
                | models.Q(("kind__in", ["door-schedule", "lock-chart", "binder"]), ("system__isnull", True)),
                name="export_is_about_a_system_or_a_place",
            ),
        ),
        migrations.AddConstraint(
            model_name="export",
            constraint=models.CheckConstraint(
                condition=models.Q(("holds_bittings", True), ("kind", "bitting-list"))
                | models.Q(("kind", "binder"))
                | models.Q(
                    ("holds_bittings", False),
                    ("kind__in", ["keying-schedule", "door-schedule", "lock-chart"]),
                ),
                name="export_says_whether_it_holds_bittings",
            ),
        ),
    ]
