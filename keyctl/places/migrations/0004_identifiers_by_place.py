"""The few identifiers of buildings, floors and spaces are found beside the many of doors."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("places", "0003_spaces_and_identifiers"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="identifier",
            # Buildings of the API: most identifiers are of none, for which SQLite reads all without it.
            index=models.Index(
                condition=models.Q(("building__isnull", False)),
                fields=["building"],
                name="identifier_of_building",
            ),
        ),
        migrations.AddIndex(
            model_name="identifier",
            # Floors of the API, for the same reason.
            index=models.Index(
                condition=models.Q(("floor__isnull", False)), fields=["floor"], name="identifier_of_floor"
            ),
        ),
        migrations.AddIndex(
            model_name="identifier",
            # Spaces of the API, for the same reason.
            index=models.Index(
                condition=models.Q(("space__isnull", False)), fields=["space"], name="identifier_of_space"
            ),
        ),
    ]
