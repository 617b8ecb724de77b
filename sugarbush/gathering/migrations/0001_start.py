import uuid

import django.db.models.deletion
import django.db.models.expressions
import django.utils.timezone
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("kit", "0001_start"),
        ("seasons", "0001_start"),
        ("taps", "0001_start"),
        ("trees", "0001_start"),
        ("volunteers", "0001_start"),
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="HistoricalCollection",
            fields=[
                ("id", models.UUIDField(db_index=True, default=uuid.uuid4, editable=False)),
                (
                    "outcome",
                    models.CharField(
                        choices=[
                            ("sap", "Sap"),
                            ("empty", "Empty"),
                            ("frozen", "Frozen"),
                            ("no_access", "Can’t get in"),
                            ("gone", "Pail gone"),
                            ("unsafe", "Not safe"),
                            ("removal", "Spout pulled"),
                        ],
                        max_length=10,
                    ),
                ),
                ("volume_ml", models.PositiveIntegerField(default=0, verbose_name="out of the tree")),
                ("discarded_ml", models.PositiveIntegerField(default=0, verbose_name="of it tipped out")),
                (
                    "discard_reason",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("cloudy", "cloudy"),
                            ("milky", "milky or sour"),
                            ("ropy", "ropy"),
                            ("ice", "ice tipped off"),
                            ("overflow", "ran over"),
                            ("rain", "rain got in"),
                            ("debris", "bits or insects"),
                            ("tampered", "somebody was at it"),
                            ("full", "no room to carry or keep it"),
                            ("other", "another reason, in the note"),
                        ],
                        max_length=10,
                        verbose_name="why tipped out",
                    ),
                ),
                ("rain_ml", models.PositiveIntegerField(default=0, verbose_name="rain kept with it")),
                (
                    "sugar_brix",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=4, null=True, verbose_name="sugar"),
                ),
                (
                    "temperature_c",
                    models.DecimalField(
                        blank=True, decimal_places=1, max_digits=4, null=True, verbose_name="sap temperature"
                    ),
                ),
                (
                    "look",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("clear", "Clear"),
                            ("cloudy", "Cloudy"),
                            ("yellow", "Yellow"),
                            ("milky", "Milky"),
                            ("ropy", "Ropy"),
                            ("debris", "Bits in it"),
                        ],
                        max_length=8,
                        verbose_name="how it looks",
                    ),
                ),
                (
                    "source",
                    models.CharField(
                        choices=[("phone", "phone"), ("desk", "desk"), ("sheet", "paper sheet"), ("import", "file")],
                        default="phone",
                        max_length=6,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("counted", "counted"), ("review", "to review"), ("void", "taken back")],
                        default="counted",
                        max_length=8,
                    ),
                ),
                ("review_reasons", models.JSONField(default=list)),
                ("settled_note", models.CharField(blank=True, max_length=300)),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("happened_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("edition", models.PositiveIntegerField(default=1, editable=False)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
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
                    "tap",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="taps.tap",
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
                "verbose_name": "historical collection",
                "verbose_name_plural": "historical collections",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Collection",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "outcome",
                    models.CharField(
                        choices=[
                            ("sap", "Sap"),
                            ("empty", "Empty"),
                            ("frozen", "Frozen"),
                            ("no_access", "Can’t get in"),
                            ("gone", "Pail gone"),
                            ("unsafe", "Not safe"),
                            ("removal", "Spout pulled"),
                        ],
                        max_length=10,
                    ),
                ),
                ("volume_ml", models.PositiveIntegerField(default=0, verbose_name="out of the tree")),
                ("discarded_ml", models.PositiveIntegerField(default=0, verbose_name="of it tipped out")),
                (
                    "discard_reason",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("cloudy", "cloudy"),
                            ("milky", "milky or sour"),
                            ("ropy", "ropy"),
                            ("ice", "ice tipped off"),
                            ("overflow", "ran over"),
                            ("rain", "rain got in"),
                            ("debris", "bits or insects"),
                            ("tampered", "somebody was at it"),
                            ("full", "no room to carry or keep it"),
                            ("other", "another reason, in the note"),
                        ],
                        max_length=10,
                        verbose_name="why tipped out",
                    ),
                ),
                ("rain_ml", models.PositiveIntegerField(default=0, verbose_name="rain kept with it")),
                (
                    "sugar_brix",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=4, null=True, verbose_name="sugar"),
                ),
                (
                    "temperature_c",
                    models.DecimalField(
                        blank=True, decimal_places=1, max_digits=4, null=True, verbose_name="sap temperature"
                    ),
                ),
                (
                    "look",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("clear", "Clear"),
                            ("cloudy", "Cloudy"),
                            ("yellow", "Yellow"),
                            ("milky", "Milky"),
                            ("ropy", "Ropy"),
                            ("debris", "Bits in it"),
                        ],
                        max_length=8,
                        verbose_name="how it looks",
                    ),
                ),
                (
                    "source",
                    models.CharField(
                        choices=[("phone", "phone"), ("desk", "desk"), ("sheet", "paper sheet"), ("import", "file")],
                        default="phone",
                        max_length=6,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("counted", "counted"), ("review", "to review"), ("void", "taken back")],
                        default="counted",
                        max_length=8,
                    ),
                ),
                ("review_reasons", models.JSONField(default=list)),
                ("settled_note", models.CharField(blank=True, max_length=300)),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("body_hash", models.CharField(blank=True, editable=False, max_length=64)),
                ("happened_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("edition", models.PositiveIntegerField(default=1, editable=False)),
                (
                    "container",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="collections",
                        to="kit.container",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="collections",
                        to="volunteers.group",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="collections",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="collections", to="seasons.season"
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
                    "tap",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="collections",
                        to="taps.tap",
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="collections", to="trees.tree"
                    ),
                ),
            ],
            options={
                "verbose_name": "collection",
                "ordering": ("-happened_at", "-recorded_at"),
                "indexes": [
                    models.Index(fields=["tree", "-happened_at"], name="collection_by_tree"),
                    models.Index(fields=["person", "-happened_at"], name="collection_by_person"),
                    models.Index(fields=["season", "state", "-happened_at"], name="collection_by_state"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "discarded_ml__lte",
                                django.db.models.expressions.CombinedExpression(
                                    models.F("volume_ml"), "+", models.F("rain_ml")
                                ),
                            )
                        ),
                        name="tipped_at_most_what_came",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("discarded_ml", 0), models.Q(("discard_reason", ""), _negated=True), _connector="OR"
                        ),
                        name="tipped_out_has_a_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("outcome", "sap"),
                            models.Q(("discarded_ml", 0), ("rain_ml", 0), ("volume_ml", 0)),
                            ("outcome", "removal"),
                            _connector="OR",
                        ),
                        name="litres_only_with_sap",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sugar_brix", None),
                            models.Q(("sugar_brix__gte", 0), ("sugar_brix__lte", 12)),
                            _connector="OR",
                        ),
                        name="sap_brix_possible",
                    ),
                ],
            },
        ),
    ]
