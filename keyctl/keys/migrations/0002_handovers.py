import itertools
import uuid
from collections import defaultdict
from datetime import timedelta

import django.db.models.deletion
import django.db.models.functions.text
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

from keyctl.lib.moments import end_of_day

NOT_KEPT = "Signature not kept"


def write_acts(apps, schema_editor):
    """Each line of the register as it was gets its acts; days that keys were due on become moments."""
    acts, lines, copies = [], [], []
    numbers = defaultdict(count_from_one)
    lost = _ended_by_loss(apps)
    for line in apps.get_model("keys", "Custody").objects.select_related("copy").order_by("out_at", "pk"):
        acts.append(_act(apps, line, "out", next(numbers[line.copy.site_id])))
        line.out_act = acts[-1]
        line.due_at = line.due_on and end_of_day(line.due_on)
        if line.ended_at is None:
            line.copy.custody = line
            copies.append(line.copy)
        elif line.pk in lost:
            line.ending = "lost"
        else:
            acts.append(_act(apps, line, "back", next(numbers[line.copy.site_id])))
            line.ending, line.back_act = "returned", acts[-1]
        lines.append(line)
    _save(apps, acts, lines, copies, numbers)
    # PostgreSQL alters no table that has foreign keys still to be checked.
    schema_editor.connection.check_constraints()


def count_from_one():
    return itertools.count(1)


def _act(apps, line, way, number):
    is_out = way == "out"
    return apps.get_model("keys", "Handover")(
        site_id=line.copy.site_id,
        number=number,
        way=way,
        holder_id=line.holder_id,
        at=line.out_at if is_out else line.ended_at,
        by_id=line.handed_out_by_id if is_out else line.ended_by_id,
        signed_as=(line.signed_as or NOT_KEPT) if is_out else "",
        sign_way="typed" if is_out else "none",
    )


def _ended_by_loss(apps):
    """Lines whose end is the moment in which history has the copy lost."""
    reported = defaultdict(list)
    subjects = apps.get_model("audit", "EventSubject").objects.filter(
        event__verb="key.lost", kind="keys.keycopy"
    )
    for copy, at in subjects.values_list("subject_id", "event__at"):
        reported[copy].append(at)
    ended = apps.get_model("keys", "Custody").objects.filter(ended_at__isnull=False)
    return {
        pk
        for pk, copy, at in ended.values_list("pk", "copy", "ended_at")
        if any(abs(moment - at) < timedelta(seconds=5) for moment in reported.get(copy, ()))
    }


def _save(apps, acts, lines, copies, numbers):
    apps.get_model("keys", "Handover").objects.bulk_create(acts, batch_size=500)
    fields = ["out_act", "back_act", "due_at", "ending"]
    apps.get_model("keys", "Custody").objects.bulk_update(lines, fields, batch_size=200)
    apps.get_model("keys", "KeyCopy").objects.bulk_update(copies, ["custody"], batch_size=200)
    apps.get_model("keys", "DeskSettings").objects.bulk_create(
        apps.get_model("keys", "DeskSettings")(site_id=site, last_number=next(number) - 1)
        for site, number in numbers.items()
    )


class Migration(migrations.Migration):
    dependencies = [
        ("audit", "0001_initial"),
        ("keys", "0001_initial"),
        ("places", "0001_initial"),
        ("systems", "0002_levels_and_origins"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="custody",
            name="custody_end_says_who",
        ),
        migrations.RemoveConstraint(
            model_name="keycopy",
            name="key_copy_is_in_exactly_one_state",
        ),
        migrations.CreateModel(
            name="Deposit",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("amount", models.PositiveIntegerField()),
                ("currency", models.CharField(max_length=3)),
                (
                    "state",
                    models.CharField(
                        choices=[("taken", "Taken"), ("given-back", "Given back"), ("kept", "Kept")],
                        default="taken",
                        max_length=10,
                    ),
                ),
                ("settled_at", models.DateTimeField(null=True)),
                ("reason", models.CharField(blank=True, max_length=400)),
            ],
            options={
                "ordering": ["-handover__at"],
            },
        ),
        migrations.CreateModel(
            name="DeskSettings",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("staff_days", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("student_days", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("contractor_hours", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("other_days", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("change_deposit", models.PositiveIntegerField(default=0)),
                ("master_deposit", models.PositiveIntegerField(default=0)),
                ("top_deposit", models.PositiveIntegerField(default=0)),
                ("control_deposit", models.PositiveIntegerField(default=0)),
                ("currency", models.CharField(default="USD", max_length=3)),
                (
                    "stamping",
                    models.CharField(
                        choices=[
                            ("serial", "The serial only"),
                            ("free", "A text of ours that names no key and no door"),
                            ("any", "Any text"),
                        ],
                        default="serial",
                        max_length=8,
                    ),
                ),
                ("last_number", models.PositiveIntegerField(default=0)),
                ("version", models.PositiveIntegerField(default=1)),
            ],
            options={
                "verbose_name_plural": "desk settings",
            },
        ),
        migrations.CreateModel(
            name="Handover",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("number", models.PositiveIntegerField()),
                (
                    "way",
                    models.CharField(
                        choices=[("out", "Handed out"), ("back", "Returned"), ("transfer", "Transferred")],
                        max_length=8,
                    ),
                ),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                ("signed_as", models.CharField(blank=True, max_length=120)),
                (
                    "sign_way",
                    models.CharField(
                        choices=[("drawn", "Drawn"), ("typed", "Name typed"), ("none", "Not signed")],
                        default="none",
                        max_length=6,
                    ),
                ),
                ("signature", models.BinaryField(null=True)),
            ],
            options={
                "ordering": ["-at", "-number"],
            },
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("user_name", models.CharField(blank=True, max_length=150)),
                ("external_id", models.CharField(blank=True, max_length=150)),
                ("display_name", models.CharField(max_length=120)),
                ("email", models.EmailField(blank=True, max_length=254)),
                ("department", models.CharField(blank=True, max_length=120)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("staff", "Staff"),
                            ("student", "Student"),
                            ("contractor", "Contractor"),
                            ("other", "Other"),
                        ],
                        default="staff",
                        max_length=10,
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
                ("created_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                "ordering": ["display_name"],
            },
        ),
        migrations.CreateModel(
            name="Terms",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                ("number", models.PositiveIntegerField()),
                ("text", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                "verbose_name_plural": "terms",
                "ordering": ["site__code", "-number"],
            },
        ),
        migrations.AddField(
            model_name="cabinet",
            name="custodian",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="cabinets",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="custody",
            name="brought_by",
            field=models.CharField(blank=True, max_length=120),
        ),
        migrations.AddField(
            model_name="custody",
            name="condition_back",
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddField(
            model_name="custody",
            name="due_at",
            field=models.DateTimeField(null=True),
        ),
        migrations.AddField(
            model_name="custody",
            name="ending",
            field=models.CharField(
                blank=True,
                choices=[("returned", "Returned"), ("transferred", "Transferred"), ("lost", "Reported lost")],
                max_length=12,
            ),
        ),
        migrations.AddField(
            model_name="holder",
            name="department",
            field=models.CharField(blank=True, max_length=120),
        ),
        migrations.AddField(
            model_name="holder",
            name="kind",
            field=models.CharField(
                choices=[
                    ("staff", "Staff"),
                    ("student", "Student"),
                    ("contractor", "Contractor"),
                    ("other", "Other"),
                ],
                default="staff",
                max_length=10,
            ),
        ),
        migrations.AddField(
            model_name="keycopy",
            name="condition",
            field=models.CharField(
                choices=[("sound", "Sound"), ("broken", "Broken")], default="sound", max_length=8
            ),
        ),
        migrations.AddField(
            model_name="keycopy",
            name="custody",
            field=models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="copy_out",
                to="keys.custody",
            ),
        ),
        migrations.AddField(
            model_name="keycopy",
            name="stamp",
            field=models.CharField(blank=True, max_length=24),
        ),
        migrations.AddField(
            model_name="deposit",
            name="settled_by",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="desksettings",
            name="site",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="desk_settings", to="places.site"
            ),
        ),
        migrations.AddField(
            model_name="handover",
            name="by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="handover",
            name="holder",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="handovers",
                to="keys.holder",
            ),
        ),
        migrations.AddField(
            model_name="handover",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="handovers", to="places.site"
            ),
        ),
        migrations.AddField(
            model_name="deposit",
            name="handover",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="deposit", to="keys.handover"
            ),
        ),
        migrations.AddField(
            model_name="custody",
            name="back_act",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="lines_back",
                to="keys.handover",
            ),
        ),
        migrations.AddField(
            model_name="custody",
            name="out_act",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="lines_out",
                to="keys.handover",
            ),
        ),
        migrations.AddField(
            model_name="person",
            name="user",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="persons",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="holder",
            name="person",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="holders",
                to="keys.person",
            ),
        ),
        migrations.AddField(
            model_name="terms",
            name="made_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="terms",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="terms", to="places.site"
            ),
        ),
        migrations.AddField(
            model_name="handover",
            name="terms",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="keys.terms"
            ),
        ),
        migrations.AddField(
            model_name="desksettings",
            name="terms",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="keys.terms"
            ),
        ),
        migrations.RunPython(write_acts, migrations.RunPython.noop),
        migrations.RemoveField(
            model_name="custody",
            name="due_on",
        ),
        migrations.RemoveField(
            model_name="custody",
            name="signed_as",
        ),
        migrations.AlterField(
            model_name="custody",
            name="out_act",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="lines_out", to="keys.handover"
            ),
        ),
        migrations.AddConstraint(
            model_name="keycopy",
            constraint=models.UniqueConstraint(
                condition=models.Q(("stamp", ""), _negated=True),
                fields=("site", "stamp"),
                name="key_copy_stamp_is_unique_at_its_site",
            ),
        ),
        migrations.AddConstraint(
            model_name="keycopy",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("cabinet__isnull", True),
                        ("custody__isnull", False),
                        ("holder__isnull", False),
                        ("state", "held"),
                    ),
                    models.Q(
                        ("cabinet__isnull", False),
                        ("custody__isnull", True),
                        ("holder__isnull", True),
                        ("state", "in-cabinet"),
                    ),
                    models.Q(
                        ("cabinet__isnull", True),
                        ("custody__isnull", True),
                        ("holder__isnull", True),
                        ("state__in", ["lost", "destroyed"]),
                    ),
                    _connector="OR",
                ),
                name="key_copy_is_in_exactly_one_state",
            ),
        ),
        migrations.AddIndex(
            model_name="custody",
            index=models.Index(
                condition=models.Q(("ended_at__isnull", True)), fields=["due_at"], name="custody_out_by_due"
            ),
        ),
        migrations.AddIndex(
            model_name="custody",
            index=models.Index(fields=["holder", "ended_at"], name="custody_of_holder"),
        ),
        migrations.AddConstraint(
            model_name="custody",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ended_at__isnull", True), ("ended_by__isnull", True), ("ending", "")),
                    models.Q(
                        ("ended_at__isnull", False),
                        ("ended_by__isnull", False),
                        models.Q(("ending", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="custody_end_says_who",
            ),
        ),
        migrations.AddConstraint(
            model_name="custody",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("back_act__isnull", True), ("ending__in", ["", "lost"])),
                    models.Q(("back_act__isnull", False), ("ending__in", ["returned", "transferred"])),
                    _connector="OR",
                ),
                name="custody_comes_back_by_an_act",
            ),
        ),
        migrations.AddConstraint(
            model_name="holder",
            constraint=models.UniqueConstraint(
                condition=models.Q(("person__isnull", False)),
                fields=("site", "person"),
                name="holder_stands_for_a_person_once_a_site",
            ),
        ),
        migrations.AddConstraint(
            model_name="deposit",
            constraint=models.CheckConstraint(
                condition=models.Q(("amount__gt", 0)), name="deposit_is_some_money"
            ),
        ),
        migrations.AddConstraint(
            model_name="deposit",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("settled_at__isnull", True), ("settled_by__isnull", True), ("state", "taken")),
                    models.Q(
                        ("settled_at__isnull", False),
                        ("settled_by__isnull", False),
                        ("state__in", ["given-back", "kept"]),
                    ),
                    _connector="OR",
                ),
                name="deposit_that_is_settled_says_by_whom",
            ),
        ),
        migrations.AddConstraint(
            model_name="deposit",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), ("state", "kept"), _negated=True),
                name="deposit_that_is_kept_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.UniqueConstraint(
                django.db.models.functions.text.Lower("user_name"),
                condition=models.Q(("user_name", ""), _negated=True),
                name="person_user_name_is_unique",
            ),
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.UniqueConstraint(
                condition=models.Q(("external_id", ""), _negated=True),
                fields=("external_id",),
                name="person_external_id_is_unique",
            ),
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.UniqueConstraint(
                condition=models.Q(("user__isnull", False)),
                fields=("user",),
                name="person_stands_for_a_user_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="terms",
            constraint=models.UniqueConstraint(
                fields=("site", "number"), name="terms_number_is_unique_at_its_site"
            ),
        ),
        migrations.AddConstraint(
            model_name="terms",
            constraint=models.CheckConstraint(
                condition=models.Q(("text", ""), _negated=True), name="terms_have_a_text"
            ),
        ),
        migrations.AddConstraint(
            model_name="handover",
            constraint=models.UniqueConstraint(
                fields=("site", "number"), name="handover_number_is_unique_at_its_site"
            ),
        ),
        migrations.AddConstraint(
            model_name="handover",
            constraint=models.CheckConstraint(
                condition=models.Q(("way", "back"), ("holder__isnull", False), _connector="OR"),
                name="handover_says_who_took_the_keys",
            ),
        ),
        migrations.AddConstraint(
            model_name="handover",
            constraint=models.CheckConstraint(
                condition=models.Q(("way", "back"), ("sign_way__in", ["drawn", "typed"]), _connector="OR"),
                name="handover_is_signed_by_who_takes_keys",
            ),
        ),
        migrations.AddConstraint(
            model_name="handover",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("sign_way", "drawn"), ("signature__isnull", False)),
                    models.Q(
                        ("sign_way", "typed"),
                        ("signature__isnull", True),
                        models.Q(("signed_as", ""), _negated=True),
                    ),
                    models.Q(("sign_way", "none"), ("signature__isnull", True)),
                    _connector="OR",
                ),
                name="handover_signature_is_as_it_says",
            ),
        ),
        migrations.AddConstraint(
            model_name="desksettings",
            constraint=models.CheckConstraint(
                condition=models.Q(("currency", ""), _negated=True),
                name="desk_settings_name_a_currency",
            ),
        ),
    ]
