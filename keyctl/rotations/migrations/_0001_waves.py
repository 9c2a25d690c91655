"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="RotationKey",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "new",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="systems.keysymbol"
                ),
            ),
            (
                "old",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="systems.keysymbol"
                ),
            ),
            (
                "rotation",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="keys",
                    to="rotations.rotation",
                ),
            ),
        ],
        options={
            "ordering": ["rotation", "old__system__code", "old__symbol"],
            "constraints": [
                models.UniqueConstraint(fields=("rotation", "old"), name="rotation_names_a_new_key_once"),
                models.CheckConstraint(
                    condition=models.Q(("old", models.F("new")), _negated=True),
                    name="rotation_changes_a_key",
                ),
            ],
        },
    ),
    migrations.AddField(
        model_name="rotationdoor",
        name="keys",
        field=models.ManyToManyField(related_name="doors", to="rotations.rotationkey"),
    ),
    migrations.CreateModel(
        name="Wave",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("ordinal", models.PositiveSmallIntegerField()),
            (
                "state",
                models.CharField(
                    choices=[("planned", "To come"), ("begun", "Under way"), ("done", "Done")],
                    default="planned",
                    max_length=8,
                ),
            ),
            ("begun_at", models.DateTimeField(null=True)),
            ("done_at", models.DateTimeField(null=True)),
            (
                "pin_order",
                models.OneToOneField(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="pins_of",
                    to="orders.workorder",
                ),
            ),
            (
                "rotation",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="waves",
                    to="rotations.rotation",
                ),
            ),
            (
                "swap_order",
                models.OneToOneField(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="swaps_of",
                    to="orders.workorder",
                ),
            ),
        ],
        options={
            "ordering": ["rotation", "ordinal"],
            "constraints": [
                models.UniqueConstraint(fields=("rotation", "ordinal"), name="wave_has_its_own_place"),
                models.UniqueConstraint(
                    condition=models.Q(("state", "begun")),
                    fields=("rotation",),
                    name="rotation_has_one_wave_under_way",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("begun_at__isnull", True),
                            ("pin_order__isnull", True),
                            ("state", "planned"),
                            ("swap_order__isnull", True),
                        ),
                        models.Q(
                            ("begun_at__isnull", False),
                            ("state__in", ["begun", "done"]),
                            ("swap_order__isnull", False),
                        ),
                        _connector="OR",
                    ),
                    name="wave_under_way_has_its_orders",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("done_at__isnull", False), ("state", "done")),
                        models.Q(models.Q(("state", "done"), _negated=True), ("done_at__isnull", True)),
                        _connector="OR",
                    ),
                    name="wave_done_says_when",
                ),
            ],
        },
    ),
    migrations.AddField(
        model_name="rotationdoor",
        name="wave",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.SET_NULL,
            related_name="doors",
            to="rotations.wave",
        ),
    ),
    migrations.AddConstraint(
        model_name="rotationdoor",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("state", "unreached"), _negated=True), ("wave__isnull", False), _connector="OR"
            ),
            name="rotation_door_is_unreached_in_a_wave",
        ),
    ),
]
