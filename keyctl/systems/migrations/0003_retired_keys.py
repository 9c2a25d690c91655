from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("systems", "0002_levels_and_origins")]

    operations = [
        migrations.AddField(
            model_name="keysymbol",
            name="retired_at",
            field=models.DateTimeField(null=True),
        ),
        migrations.AlterField(
            model_name="keysymbol",
            name="origin",
            field=models.CharField(
                choices=[
                    ("designed", "Designed with the system"),
                    ("extended", "Next free change"),
                    ("brought-in", "Brought in from a list"),
                    ("charted", "Worked out from a lock chart"),
                    ("replaced", "In the place of a lost key"),
                ],
                default="designed",
                max_length=12,
            ),
        ),
    ]
