import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Building",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("code", models.CharField(max_length=12)),
                ("name", models.CharField(max_length=120)),
            ],
            options={
                "ordering": ["site__code", "code"],
            },
        ),
        migrations.CreateModel(
            name="Floor",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("label", models.CharField(max_length=20)),
                ("level", models.SmallIntegerField()),
                (
                    "building",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="floors",
                        to="places.building",
                    ),
                ),
            ],
            options={
                "ordering": ["building__site__code", "building__code", "level"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("building", "label"), name="floor_label_is_unique_in_its_building"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Door",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("number", models.CharField(max_length=30)),
                ("name", models.CharField(blank=True, max_length=120)),
                (
                    "door_class",
                    models.CharField(
                        choices=[
                            ("ordinary", "Ordinary"),
                            ("restricted", "Restricted"),
                            ("critical", "Critical"),
                        ],
                        default="ordinary",
                        max_length=12,
                    ),
                ),
                ("is_egress", models.BooleanField(default=False)),
                ("is_fire_rated", models.BooleanField(default=False)),
                ("note", models.TextField(blank=True)),
                (
                    "floor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="doors", to="places.floor"
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
                        fields=("floor", "number"), name="door_number_is_unique_on_its_floor"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("door_class__in", ["ordinary", "restricted", "critical"])),
                        name="door_class_is_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Housing",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("mortise", "Mortise cylinder"),
                            ("rim", "Rim cylinder"),
                            ("lever", "Lever or knob"),
                            ("padlock", "Padlock"),
                            ("cabinet", "Cabinet lock"),
                            ("switch", "Key switch"),
                        ],
                        max_length=12,
                    ),
                ),
                ("construction", models.CharField(max_length=30)),
                ("label", models.CharField(blank=True, max_length=60)),
                (
                    "door",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="housings", to="places.door"
                    ),
                ),
            ],
            options={
                "ordering": ["door", "kind", "label"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("door", "kind", "label"), name="housing_is_told_apart_on_its_door"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Site",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("code", models.CharField(max_length=12)),
                ("name", models.CharField(max_length=120)),
            ],
            options={
                "ordering": ["code"],
                "constraints": [models.UniqueConstraint(fields=("code",), name="site_code_is_unique")],
            },
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("locksmith", "Locksmith"),
                            ("key-desk", "Key desk"),
                            ("manager", "Manager"),
                            ("officer", "Security officer"),
                            ("auditor", "Auditor"),
                            ("requester", "Requester"),
                            ("administrator", "Administrator"),
                            ("integration", "Integration"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to="places.site",
                    ),
                ),
            ],
            options={
                "ordering": ["site__code", "role"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("user", "site", "role"), name="membership_is_granted_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "role__in",
                                [
                                    "locksmith",
                                    "key-desk",
                                    "manager",
                                    "officer",
                                    "auditor",
                                    "requester",
                                    "administrator",
                                    "integration",
                                ],
                            )
                        ),
                        name="membership_role_is_known",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="building",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="buildings", to="places.site"
            ),
        ),
        migrations.CreateModel(
            name="BuildingManager",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "building",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="managers",
                        to="places.building",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="managed_buildings",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("building", "user"), name="building_manager_is_named_once"
                    )
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="building",
            constraint=models.UniqueConstraint(
                fields=("site", "code"), name="building_code_is_unique_in_its_site"
            ),
        ),
    ]
