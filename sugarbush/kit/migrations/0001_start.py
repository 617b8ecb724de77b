import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("volunteers", "0001_start"),
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="Depot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=80, unique=True, verbose_name="name")),
                ("place", models.CharField(blank=True, max_length=160, verbose_name="place")),
                ("hours", models.CharField(blank=True, max_length=120, verbose_name="open")),
                ("keyholder", models.CharField(blank=True, max_length=120, verbose_name="who has the key")),
                ("groups", models.ManyToManyField(blank=True, related_name="depots", to="volunteers.group")),
            ],
            options={
                "verbose_name": "depot",
                "ordering": ("name",),
            },
        ),
        migrations.CreateModel(
            name="HistoricalContainer",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("code", models.CharField(db_index=True, max_length=20, verbose_name="code")),
                ("capacity_ml", models.PositiveIntegerField(verbose_name="holds")),
                ("material", models.CharField(blank=True, max_length=60, verbose_name="made of")),
                (
                    "food_safe",
                    models.CharField(
                        choices=[("yes", "food-safe"), ("no", "not for food"), ("untested", "not tested")],
                        default="untested",
                        max_length=8,
                        verbose_name="for food?",
                    ),
                ),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "held_by",
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
                "verbose_name": "historical container",
                "verbose_name_plural": "historical containers",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalDepot",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("name", models.CharField(db_index=True, max_length=80, verbose_name="name")),
                ("place", models.CharField(blank=True, max_length=160, verbose_name="place")),
                ("hours", models.CharField(blank=True, max_length=120, verbose_name="open")),
                ("keyholder", models.CharField(blank=True, max_length=120, verbose_name="who has the key")),
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
                "verbose_name": "historical depot",
                "verbose_name_plural": "historical depots",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Container",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.CharField(max_length=20, unique=True, verbose_name="code")),
                ("capacity_ml", models.PositiveIntegerField(verbose_name="holds")),
                ("material", models.CharField(blank=True, max_length=60, verbose_name="made of")),
                (
                    "food_safe",
                    models.CharField(
                        choices=[("yes", "food-safe"), ("no", "not for food"), ("untested", "not tested")],
                        default="untested",
                        max_length=8,
                        verbose_name="for food?",
                    ),
                ),
                (
                    "held_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="containers",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "container",
                "ordering": ("code",),
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("capacity_ml__gt", 0)), name="container_holds_something")
                ],
            },
        ),
    ]
