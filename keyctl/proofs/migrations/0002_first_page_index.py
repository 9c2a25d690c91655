from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("proofs", "0001_initial")]

    operations = [
        migrations.AddIndex(
            model_name="finding",
            # The first page: what is new in the last proof.
            index=models.Index(
                fields=["proof", "site"], condition=models.Q(is_new=True), name="finding_new_by_site"
            ),
        ),
    ]
