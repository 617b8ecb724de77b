import uuid

import django.core.validators
import django.db.models.deletion
import django.utils.timezone
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("kit", "0001_start"),
        ("sap", "0001_start"),
        ("seasons", "0001_start"),
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="BoilDay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("day", models.DateField(verbose_name="day")),
                ("site", models.CharField(max_length=160, verbose_name="where")),
                (
                    "elevation_m",
                    models.SmallIntegerField(
                        default=0,
                        validators=[
                            django.core.validators.MinValueValidator(-430),
                            django.core.validators.MaxValueValidator(5000),
                        ],
                        verbose_name="height above sea level",
                    ),
                ),
                ("pan_area_cm2", models.PositiveIntegerField(blank=True, null=True, verbose_name="pan area")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("planned", "planned"),
                            ("lit", "fire lit"),
                            ("out", "fire out"),
                            ("called_off", "called off"),
                        ],
                        default="planned",
                        max_length=10,
                    ),
                ),
                ("fire_permission", models.BooleanField(default=False, verbose_name="fire permission in hand")),
                ("extinguisher", models.BooleanField(default=False, verbose_name="extinguisher or water ready")),
                ("two_adults", models.BooleanField(default=False, verbose_name="two adults at the pan at all times")),
                ("outdoors", models.BooleanField(default=False, verbose_name="outdoors, clear of buildings")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("crew", models.ManyToManyField(blank=True, related_name="boil_days", to=settings.AUTH_USER_MODEL)),
                (
                    "lead",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="boil_days", to="seasons.season"
                    ),
                ),
            ],
            options={
                "verbose_name": "boiling day",
                "ordering": ("-day", "-pk"),
            },
        ),
        migrations.CreateModel(
            name="Delivery",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("number", models.PositiveIntegerField(verbose_name="number")),
                (
                    "state",
                    models.CharField(
                        choices=[("accepted", "accepted"), ("ahead", "ahead of its entries"), ("settled", "settled")],
                        default="accepted",
                        max_length=8,
                    ),
                ),
                ("all_of_it", models.BooleanField(default=False, verbose_name="that is all they carry")),
                ("held_ml", models.PositiveIntegerField(default=0, verbose_name="held before")),
                ("difference_ml", models.IntegerField(default=0, verbose_name="measured over or under")),
                ("explanation", models.CharField(blank=True, max_length=400, verbose_name="why the measures differ")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("happened_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "approved_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "depot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="deliveries", to="kit.depot"
                    ),
                ),
                (
                    "keeper",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="deliveries",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="deliveries", to="seasons.season"
                    ),
                ),
            ],
            options={
                "verbose_name": "delivery",
                "ordering": ("-happened_at", "-number"),
                "indexes": [models.Index(fields=["person", "-happened_at"], name="delivery_by_person")],
                "constraints": [models.UniqueConstraint(fields=("season", "number"), name="delivery_number_once")],
            },
        ),
        migrations.CreateModel(
            name="DeliveryLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("container_text", models.CharField(blank=True, max_length=40, verbose_name="container")),
                ("volume_ml", models.PositiveIntegerField(verbose_name="volume")),
                ("mass_g", models.PositiveIntegerField(blank=True, null=True, verbose_name="weighed")),
                (
                    "sugar_brix",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=4, null=True, verbose_name="sugar"),
                ),
                (
                    "temperature_c",
                    models.DecimalField(
                        blank=True, decimal_places=1, max_digits=4, null=True, verbose_name="temperature"
                    ),
                ),
                (
                    "look",
                    models.CharField(
                        choices=[
                            ("clear", "Clear"),
                            ("cloudy", "Cloudy"),
                            ("yellow", "Yellow"),
                            ("milky", "Milky"),
                            ("ropy", "Ropy"),
                            ("debris", "Bits in it"),
                        ],
                        default="clear",
                        max_length=8,
                        verbose_name="how it looks",
                    ),
                ),
                ("reject_reason", models.CharField(blank=True, max_length=200, verbose_name="why turned away")),
                (
                    "container",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="kit.container",
                    ),
                ),
                (
                    "delivery",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="lines", to="boils.delivery"
                    ),
                ),
                (
                    "tank",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="delivery_lines",
                        to="sap.vessel",
                    ),
                ),
            ],
            options={
                "ordering": ("pk",),
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("volume_ml__gt", 0)), name="line_holds_something"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reject_reason", ""), ("tank__isnull", False)),
                            models.Q(("tank", None), models.Q(("reject_reason", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="line_in_a_tank_or_turned_away",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="HistoricalBatch",
            fields=[
                ("id", models.UUIDField(db_index=True, default=uuid.uuid4, editable=False)),
                ("number", models.PositiveSmallIntegerField(verbose_name="number")),
                (
                    "state",
                    models.CharField(
                        choices=[("open", "boiling"), ("closed", "drawn off"), ("lost", "lost")],
                        default="open",
                        max_length=6,
                    ),
                ),
                (
                    "syrup_brix",
                    models.DecimalField(
                        blank=True, decimal_places=1, max_digits=4, null=True, verbose_name="syrup density"
                    ),
                ),
                ("opened_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("closed_at", models.DateTimeField(null=True)),
                ("loss_reason", models.CharField(blank=True, max_length=300, verbose_name="why lost")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "boil_day",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="boils.boilday",
                    ),
                ),
                (
                    "closed_by",
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
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "lot",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="sap.vessel",
                    ),
                ),
                (
                    "opened_by",
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
                    "pan",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="sap.vessel",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical batch",
                "verbose_name_plural": "historical batchs",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalBoilDay",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("day", models.DateField(verbose_name="day")),
                ("site", models.CharField(max_length=160, verbose_name="where")),
                (
                    "elevation_m",
                    models.SmallIntegerField(
                        default=0,
                        validators=[
                            django.core.validators.MinValueValidator(-430),
                            django.core.validators.MaxValueValidator(5000),
                        ],
                        verbose_name="height above sea level",
                    ),
                ),
                ("pan_area_cm2", models.PositiveIntegerField(blank=True, null=True, verbose_name="pan area")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("planned", "planned"),
                            ("lit", "fire lit"),
                            ("out", "fire out"),
                            ("called_off", "called off"),
                        ],
                        default="planned",
                        max_length=10,
                    ),
                ),
                ("fire_permission", models.BooleanField(default=False, verbose_name="fire permission in hand")),
                ("extinguisher", models.BooleanField(default=False, verbose_name="extinguisher or water ready")),
                ("two_adults", models.BooleanField(default=False, verbose_name="two adults at the pan at all times")),
                ("outdoors", models.BooleanField(default=False, verbose_name="outdoors, clear of buildings")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
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
                    "lead",
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
            ],
            options={
                "verbose_name": "historical boiling day",
                "verbose_name_plural": "historical boiling days",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalDelivery",
            fields=[
                ("id", models.UUIDField(db_index=True, default=uuid.uuid4, editable=False)),
                ("number", models.PositiveIntegerField(verbose_name="number")),
                (
                    "state",
                    models.CharField(
                        choices=[("accepted", "accepted"), ("ahead", "ahead of its entries"), ("settled", "settled")],
                        default="accepted",
                        max_length=8,
                    ),
                ),
                ("all_of_it", models.BooleanField(default=False, verbose_name="that is all they carry")),
                ("held_ml", models.PositiveIntegerField(default=0, verbose_name="held before")),
                ("difference_ml", models.IntegerField(default=0, verbose_name="measured over or under")),
                ("explanation", models.CharField(blank=True, max_length=400, verbose_name="why the measures differ")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                ("happened_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "approved_by",
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
                    "depot",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="kit.depot",
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
                    "keeper",
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
            ],
            options={
                "verbose_name": "historical delivery",
                "verbose_name_plural": "historical deliverys",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Batch",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("number", models.PositiveSmallIntegerField(verbose_name="number")),
                (
                    "state",
                    models.CharField(
                        choices=[("open", "boiling"), ("closed", "drawn off"), ("lost", "lost")],
                        default="open",
                        max_length=6,
                    ),
                ),
                (
                    "syrup_brix",
                    models.DecimalField(
                        blank=True, decimal_places=1, max_digits=4, null=True, verbose_name="syrup density"
                    ),
                ),
                ("opened_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("closed_at", models.DateTimeField(null=True)),
                ("loss_reason", models.CharField(blank=True, max_length=300, verbose_name="why lost")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                (
                    "closed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "lot",
                    models.OneToOneField(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="lot_of", to="sap.vessel"
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "pan",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="batch", to="sap.vessel"
                    ),
                ),
                (
                    "boil_day",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="batches", to="boils.boilday"
                    ),
                ),
            ],
            options={
                "verbose_name": "batch",
                "ordering": ("boil_day", "number"),
                "constraints": [models.UniqueConstraint(fields=("boil_day", "number"), name="batch_number_once")],
            },
        ),
    ]
