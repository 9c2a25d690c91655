from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("exposure", "0001_initial")]

    operations = [
        migrations.AddIndex(
            model_name="coreexposure",
            # The first page: cores that come out by one wrong cut.
            index=models.Index(
                fields=["-accepts"],
                condition=models.Q(near_withdrawing__gt=0),
                name="exposure_near_withdrawing",
            ),
        ),
    ]
