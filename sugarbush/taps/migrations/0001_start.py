import uuid

import django.db.models.deletion
import django.utils.timezone
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("kit", "0001_start"),
        ("seasons", "0001_start"),
        ("trees", "0001_start"),
        ("volunteers", "0001_start"),
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="HistoricalAssignment",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                (
                    "state",
                    models.CharField(
                        choices=[("proposed", "proposed"), ("active", "given"), ("ended", "ended")],
                        default="active",
                        max_length=8,
                    ),
                ),
                ("given_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "given_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="volunteers.group",
                    ),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="seasons.season",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="trees.tree",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical assignment",
                "verbose_name_plural": "historical assignments",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalTap",
            fields=[
                ("id", models.UUIDField(db_index=True, default=uuid.uuid4, editable=False)),
                ("position", models.PositiveSmallIntegerField(verbose_name="which hole this season")),
                ("placed_at", models.DateTimeField(verbose_name="drilled at")),
                ("height_mm", models.PositiveIntegerField(verbose_name="height above ground")),
                ("aspect_deg", models.PositiveSmallIntegerField(verbose_name="side of the trunk")),
                ("bit_um", models.PositiveIntegerField(verbose_name="bit")),
                ("depth_mm", models.PositiveIntegerField(verbose_name="depth")),
                (
                    "diameter_um",
                    models.PositiveIntegerField(editable=False, null=True, verbose_name="trunk across then"),
                ),
                (
                    "shavings",
                    models.CharField(
                        choices=[("white", "white"), ("brown", "brown or yellow"), ("unseen", "not looked at")],
                        max_length=6,
                        verbose_name="shavings",
                    ),
                ),
                ("container_ml", models.PositiveIntegerField(default=8000, verbose_name="the pail holds")),
                (
                    "state",
                    models.CharField(
                        choices=[("in", "in"), ("to_settle", "to settle"), ("pulled", "pulled"), ("lost", "lost")],
                        default="in",
                        max_length=9,
                    ),
                ),
                ("settle_reasons", models.JSONField(default=list)),
                ("settled_note", models.CharField(blank=True, max_length=300)),
                ("dry", models.BooleanField(default=False, verbose_name="dry")),
                ("leaking", models.BooleanField(default=False, verbose_name="leaking")),
                ("out_at", models.DateTimeField(null=True)),
                ("out_reason", models.CharField(blank=True, max_length=300, verbose_name="why it is gone")),
                ("note", models.CharField(blank=True, max_length=300, verbose_name="note")),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "container",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="kit.container",
                    ),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "out_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="seasons.season",
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="trees.tree",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical tap",
                "verbose_name_plural": "historical taps",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Assignment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "state",
                    models.CharField(
                        choices=[("proposed", "proposed"), ("active", "given"), ("ended", "ended")],
                        default="active",
                        max_length=8,
                    ),
                ),
                ("given_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "given_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="assignments", to="volunteers.group"
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="assignments",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="assignments", to="seasons.season"
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="assignments", to="trees.tree"
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state", "ended"), _negated=True),
                        fields=("tree", "season"),
                        name="one_live_assignment_a_tree",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Tap",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("position", models.PositiveSmallIntegerField(verbose_name="which hole this season")),
                ("placed_at", models.DateTimeField(verbose_name="drilled at")),
                ("height_mm", models.PositiveIntegerField(verbose_name="height above ground")),
                ("aspect_deg", models.PositiveSmallIntegerField(verbose_name="side of the trunk")),
                ("bit_um", models.PositiveIntegerField(verbose_name="bit")),
                ("depth_mm", models.PositiveIntegerField(verbose_name="depth")),
                (
                    "diameter_um",
                    models.PositiveIntegerField(editable=False, null=True, verbose_name="trunk across then"),
                ),
                (
                    "shavings",
                    models.CharField(
                        choices=[("white", "white"), ("brown", "brown or yellow"), ("unseen", "not looked at")],
                        max_length=6,
                        verbose_name="shavings",
                    ),
                ),
                ("container_ml", models.PositiveIntegerField(default=8000, verbose_name="the pail holds")),
                (
                    "state",
                    models.CharField(
                        choices=[("in", "in"), ("to_settle", "to settle"), ("pulled", "pulled"), ("lost", "lost")],
                        default="in",
                        max_length=9,
                    ),
                ),
                ("settle_reasons", models.JSONField(default=list)),
                ("settled_note", models.CharField(blank=True, max_length=300)),
                ("dry", models.BooleanField(default=False, verbose_name="dry")),
                ("leaking", models.BooleanField(default=False, verbose_name="leaking")),
                ("out_at", models.DateTimeField(null=True)),
                ("out_reason", models.CharField(blank=True, max_length=300, verbose_name="why it is gone")),
                ("note", models.CharField(blank=True, max_length=300, verbose_name="note")),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="taps_placed",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "container",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="taps",
                        to="kit.container",
                    ),
                ),
                (
                    "out_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="taps", to="seasons.season"
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="taps", to="trees.tree"
                    ),
                ),
            ],
            options={
                "ordering": ("season", "tree", "position", "recorded_at"),
                "indexes": [
                    models.Index(fields=["tree", "placed_at"], name="tap_by_tree"),
                    models.Index(fields=["season", "state"], name="tap_by_state"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("position__gt", 0)),
                        fields=("tree", "season", "position"),
                        name="one_hole_a_position",
                    ),
                    models.CheckConstraint(condition=models.Q(("position__lte", 2)), name="never_more_than_two_taps"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state", "to_settle"),
                            models.Q(("position", 0), _negated=True),
                            ("out_at__isnull", False),
                            _connector="OR",
                        ),
                        name="standing_tap_has_place",
                    ),
                    models.CheckConstraint(condition=models.Q(("aspect_deg__lt", 360)), name="aspect_on_the_compass"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("out_at", None), ("state__in", ("in", "to_settle"))),
                            models.Q(("out_at__isnull", False), ("state__in", ("pulled", "lost"))),
                            _connector="OR",
                        ),
                        name="out_has_its_time",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "lost"), _negated=True),
                            models.Q(("out_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="lost_has_its_reason",
                    ),
                ],
            },
        ),
    ]
