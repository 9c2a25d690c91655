"""Spaces that doors join, what schedules say of a door, and what other programs call a place."""

import uuid

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("places", "0002_door_tag"),
    ]

    operations = [
        migrations.AddField(
            model_name="door",
            name="asset_tag",
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AddField(
            model_name="door",
            name="bar_code",
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AddField(
            model_name="door",
            name="fire_rating",
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AddField(
            model_name="door",
            name="hardware_set",
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AddField(
            model_name="door",
            name="stated_use",
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AddField(
            model_name="door",
            name="serial_number",
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.AlterField(
            model_name="floor",
            name="label",
            field=models.CharField(max_length=40),
        ),
        migrations.CreateModel(
            name="Space",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("number", models.CharField(max_length=40)),
                ("name", models.CharField(blank=True, max_length=120)),
                (
                    "floor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="spaces", to="places.floor"
                    ),
                ),
            ],
            options={
                "ordering": [
                    "floor__building__site__code",
                    "floor__building__code",
                    "floor__level",
                    "number",
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("floor", "number"), name="space_number_is_unique_on_its_floor"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("number", ""), _negated=True), name="space_has_a_number"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Identifier",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("source", models.CharField(max_length=120)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("building", "Building"),
                            ("floor", "Floor"),
                            ("space", "Space"),
                            ("door", "Door"),
                        ],
                        max_length=12,
                    ),
                ),
                ("value", models.CharField(max_length=120)),
                ("system", models.CharField(blank=True, max_length=120)),
                ("name", models.CharField(blank=True, max_length=120)),
                (
                    "building",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="identifiers",
                        to="places.building",
                    ),
                ),
                (
                    "door",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="identifiers",
                        to="places.door",
                    ),
                ),
                (
                    "floor",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="identifiers",
                        to="places.floor",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="identifiers",
                        to="places.site",
                    ),
                ),
                (
                    "space",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="identifiers",
                        to="places.space",
                    ),
                ),
            ],
            options={
                "ordering": ["source", "value"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("site", "source", "kind", "value"),
                        name="identifier_names_one_place_of_its_site",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("source", ""), _negated=True), models.Q(("value", ""), _negated=True)
                        ),
                        name="identifier_says_what_and_whose",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("building__isnull", False),
                                ("door", None),
                                ("floor", None),
                                ("kind", "building"),
                                ("space", None),
                            ),
                            models.Q(
                                ("building", None),
                                ("door", None),
                                ("floor__isnull", False),
                                ("kind", "floor"),
                                ("space", None),
                            ),
                            models.Q(
                                ("building", None),
                                ("door", None),
                                ("floor", None),
                                ("kind", "space"),
                                ("space__isnull", False),
                            ),
                            models.Q(
                                ("building", None),
                                ("door__isnull", False),
                                ("floor", None),
                                ("kind", "door"),
                                ("space", None),
                            ),
                            _connector="OR",
                        ),
                        name="identifier_is_of_one_place",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="door",
            name="spaces",
            field=models.ManyToManyField(blank=True, related_name="doors", to="places.space"),
        ),
    ]
