from decimal import Decimal

import django.core.validators
import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="HistoricalProgramme",
            fields=[
                ("id", models.PositiveSmallIntegerField(db_index=True, default=1, editable=False)),
                ("name", models.CharField(max_length=80, verbose_name="name of the programme")),
                ("place", models.CharField(max_length=80, verbose_name="town")),
                ("time_zone", models.CharField(default="UTC", max_length=60, verbose_name="time zone")),
                (
                    "default_units",
                    models.CharField(
                        choices=[("metric", "litres, centimetres, °C"), ("us", "US gallons, inches, °F")],
                        default="metric",
                        max_length=8,
                        verbose_name="units",
                    ),
                ),
                ("tag_prefix", models.CharField(default="T", max_length=4, verbose_name="letters on the tags")),
                ("phone", models.CharField(blank=True, max_length=40, verbose_name="telephone")),
                ("west", models.FloatField(blank=True, null=True)),
                ("south", models.FloatField(blank=True, null=True)),
                ("east", models.FloatField(blank=True, null=True)),
                ("north", models.FloatField(blank=True, null=True)),
                ("local_rules", models.TextField(blank=True, verbose_name="what local rules say")),
                ("is_demo", models.BooleanField(default=False)),
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
            ],
            options={
                "verbose_name": "historical programme",
                "verbose_name_plural": "historical programmes",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalSeason",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("year", models.PositiveSmallIntegerField(db_index=True, verbose_name="year")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "being prepared"),
                            ("open", "open for permissions and checks"),
                            ("tapping", "tapping"),
                            ("running", "running"),
                            ("ending", "ending: taps come out"),
                            ("closed", "closed"),
                        ],
                        default="draft",
                        max_length=8,
                    ),
                ),
                ("tapping_from", models.DateField(verbose_name="tapping from")),
                ("tapping_to", models.DateField(verbose_name="taps out by")),
                (
                    "guideline_name",
                    models.CharField(default="Conservative", max_length=80, verbose_name="tap guideline"),
                ),
                ("first_tap_um", models.PositiveIntegerField(default=304800, verbose_name="a first tap from")),
                (
                    "second_tap_um",
                    models.PositiveIntegerField(
                        blank=True, default=457200, null=True, verbose_name="a second tap from"
                    ),
                ),
                (
                    "check_good_days",
                    models.PositiveSmallIntegerField(
                        default=60,
                        validators=[django.core.validators.MinValueValidator(1)],
                        verbose_name="days a health check counts",
                    ),
                ),
                (
                    "keep_side_mm",
                    models.PositiveIntegerField(default=100, verbose_name="keep from old holes, sideways"),
                ),
                (
                    "keep_up_mm",
                    models.PositiveIntegerField(default=300, verbose_name="keep from old holes, up and down"),
                ),
                (
                    "keep_open_side_mm",
                    models.PositiveIntegerField(default=150, verbose_name="keep from this season’s holes, sideways"),
                ),
                (
                    "tolerance_pct",
                    models.DecimalField(
                        decimal_places=1, default=Decimal("5.0"), max_digits=4, verbose_name="measuring tolerance"
                    ),
                ),
                ("tolerance_ml", models.PositiveIntegerField(default=500, verbose_name="and at least")),
                (
                    "second_person_ml",
                    models.PositiveIntegerField(default=20000, verbose_name="second person approves above"),
                ),
                (
                    "syrup_brix",
                    models.DecimalField(
                        decimal_places=1, default=Decimal("66.0"), max_digits=4, verbose_name="finish syrup at"
                    ),
                ),
                (
                    "assumed_brix",
                    models.DecimalField(
                        decimal_places=2,
                        default=Decimal("2.00"),
                        max_digits=4,
                        verbose_name="sugar to assume until measured",
                    ),
                ),
                ("species_keys", models.JSONField(default=list)),
                ("frozen_at", models.DateTimeField(null=True)),
                ("closed_at", models.DateTimeField(null=True)),
                ("frozen_totals", models.JSONField(null=True)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
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
            ],
            options={
                "verbose_name": "historical season",
                "verbose_name_plural": "historical seasons",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Programme",
            fields=[
                ("id", models.PositiveSmallIntegerField(default=1, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=80, verbose_name="name of the programme")),
                ("place", models.CharField(max_length=80, verbose_name="town")),
                ("time_zone", models.CharField(default="UTC", max_length=60, verbose_name="time zone")),
                (
                    "default_units",
                    models.CharField(
                        choices=[("metric", "litres, centimetres, °C"), ("us", "US gallons, inches, °F")],
                        default="metric",
                        max_length=8,
                        verbose_name="units",
                    ),
                ),
                ("tag_prefix", models.CharField(default="T", max_length=4, verbose_name="letters on the tags")),
                ("next_tag", models.PositiveBigIntegerField(default=1)),
                ("phone", models.CharField(blank=True, max_length=40, verbose_name="telephone")),
                ("west", models.FloatField(blank=True, null=True)),
                ("south", models.FloatField(blank=True, null=True)),
                ("east", models.FloatField(blank=True, null=True)),
                ("north", models.FloatField(blank=True, null=True)),
                ("local_rules", models.TextField(blank=True, verbose_name="what local rules say")),
                ("is_demo", models.BooleanField(default=False)),
                ("states_fresh_on", models.DateField(null=True)),
            ],
            options={
                "verbose_name": "programme",
                "constraints": [models.CheckConstraint(condition=models.Q(("pk", 1)), name="one_programme_only")],
            },
        ),
        migrations.CreateModel(
            name="Season",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("year", models.PositiveSmallIntegerField(unique=True, verbose_name="year")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "being prepared"),
                            ("open", "open for permissions and checks"),
                            ("tapping", "tapping"),
                            ("running", "running"),
                            ("ending", "ending: taps come out"),
                            ("closed", "closed"),
                        ],
                        default="draft",
                        max_length=8,
                    ),
                ),
                ("tapping_from", models.DateField(verbose_name="tapping from")),
                ("tapping_to", models.DateField(verbose_name="taps out by")),
                (
                    "guideline_name",
                    models.CharField(default="Conservative", max_length=80, verbose_name="tap guideline"),
                ),
                ("first_tap_um", models.PositiveIntegerField(default=304800, verbose_name="a first tap from")),
                (
                    "second_tap_um",
                    models.PositiveIntegerField(
                        blank=True, default=457200, null=True, verbose_name="a second tap from"
                    ),
                ),
                (
                    "check_good_days",
                    models.PositiveSmallIntegerField(
                        default=60,
                        validators=[django.core.validators.MinValueValidator(1)],
                        verbose_name="days a health check counts",
                    ),
                ),
                (
                    "keep_side_mm",
                    models.PositiveIntegerField(default=100, verbose_name="keep from old holes, sideways"),
                ),
                (
                    "keep_up_mm",
                    models.PositiveIntegerField(default=300, verbose_name="keep from old holes, up and down"),
                ),
                (
                    "keep_open_side_mm",
                    models.PositiveIntegerField(default=150, verbose_name="keep from this season’s holes, sideways"),
                ),
                (
                    "tolerance_pct",
                    models.DecimalField(
                        decimal_places=1, default=Decimal("5.0"), max_digits=4, verbose_name="measuring tolerance"
                    ),
                ),
                ("tolerance_ml", models.PositiveIntegerField(default=500, verbose_name="and at least")),
                (
                    "second_person_ml",
                    models.PositiveIntegerField(default=20000, verbose_name="second person approves above"),
                ),
                (
                    "syrup_brix",
                    models.DecimalField(
                        decimal_places=1, default=Decimal("66.0"), max_digits=4, verbose_name="finish syrup at"
                    ),
                ),
                (
                    "assumed_brix",
                    models.DecimalField(
                        decimal_places=2,
                        default=Decimal("2.00"),
                        max_digits=4,
                        verbose_name="sugar to assume until measured",
                    ),
                ),
                ("species_keys", models.JSONField(default=list)),
                ("frozen_at", models.DateTimeField(null=True)),
                ("closed_at", models.DateTimeField(null=True)),
                ("frozen_totals", models.JSONField(null=True)),
                (
                    "closed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "season",
                "ordering": ("-year",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("tapping_to__gte", models.F("tapping_from"))),
                        name="season_ends_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("first_tap_um__gte", 304800)), name="first_tap_not_looser"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("second_tap_um", None),
                            models.Q(("second_tap_um__gte", 457200), ("second_tap_um__gte", models.F("first_tap_um"))),
                            _connector="OR",
                        ),
                        name="second_tap_not_looser",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("tolerance_pct__gte", 0), ("tolerance_pct__lte", 20)),
                        name="tolerance_modest",
                    ),
                ],
            },
        ),
    ]
