import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cores", "0002_keyings_say_when"),
        ("orders", "0002_cut_keys"),
    ]

    operations = [
        migrations.AddField(
            model_name="orderline",
            name="meant",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="meant_lines",
                to="cores.core",
            ),
        ),
        migrations.AddConstraint(
            model_name="orderline",
            constraint=models.CheckConstraint(
                condition=models.Q(("meant__isnull", True), ("housing__isnull", False), _connector="OR"),
                name="core_is_meant_for_a_housing",
            ),
        ),
    ]
