import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):
    """Rows that stand already get no moment: theirs is not known."""

    dependencies = [("cores", "0001_initial")]

    operations = [
        migrations.AddField("keying", "made_at", models.DateTimeField(null=True)),
        migrations.AlterField(
            "keying", "made_at", models.DateTimeField(default=django.utils.timezone.now, null=True)
        ),
    ]
