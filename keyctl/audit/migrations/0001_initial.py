import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Event",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                ("actor_name", models.CharField(max_length=120)),
                ("site_id", models.UUIDField(null=True)),
                ("verb", models.CharField(max_length=60)),
                ("sentence", models.CharField(max_length=400)),
                ("detail", models.JSONField(default=dict)),
                (
                    "actor",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-id"],
                "indexes": [
                    # The history of a site, newest first.
                    models.Index(fields=["site_id", "-at"], name="event_by_site"),
                    # The history of one kind of act; what came since, for who is told of it.
                    models.Index(fields=["verb", "-at"], name="event_by_verb"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("verb", ""), _negated=True), name="event_has_a_verb"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("sentence", ""), _negated=True), name="event_has_a_sentence"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="EventSubject",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=60)),
                ("subject_id", models.UUIDField()),
                (
                    "event",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="subjects", to="audit.event"
                    ),
                ),
            ],
            options={
                "indexes": [
                    # The history on a thing's own page.
                    models.Index(fields=["kind", "subject_id", "-event"], name="event_by_subject"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("event", "kind", "subject_id"), name="event_names_a_subject_once"
                    ),
                ],
            },
        ),
    ]
