import uuid

import django.db.models.deletion
import django.utils.timezone
import simple_history.models
from django.conf import settings
from django.db import migrations, models

import sugarbush.volunteers.models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Person",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                ("key", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("display_name", models.CharField(max_length=80, verbose_name="name")),
                ("email", models.EmailField(blank=True, max_length=254, null=True, unique=True, verbose_name="e-mail")),
                ("language", models.CharField(default="en", max_length=8, verbose_name="language")),
                (
                    "units",
                    models.CharField(
                        choices=[("metric", "litres, centimetres, °C"), ("us", "US gallons, inches, °F")],
                        default="metric",
                        max_length=8,
                        verbose_name="units",
                    ),
                ),
                ("carry_limit_g", models.PositiveIntegerField(default=20000, verbose_name="most to carry")),
                (
                    "age_band",
                    models.CharField(
                        choices=[("adult", "18 or older"), ("youth", "16 or 17"), ("child", "under 16")],
                        default="adult",
                        max_length=8,
                        verbose_name="age",
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
                (
                    "session_salt",
                    models.CharField(default=sugarbush.volunteers.models.new_salt, editable=False, max_length=16),
                ),
                ("joined_at", models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                "verbose_name": "person",
                "ordering": ("display_name", "pk"),
            },
        ),
        migrations.CreateModel(
            name="Group",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=80, unique=True, verbose_name="name")),
                ("area", models.JSONField(blank=True, null=True, verbose_name="area")),
            ],
            options={
                "verbose_name": "group",
                "ordering": ("name",),
            },
        ),
        migrations.CreateModel(
            name="HistoricalCredential",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("waiver", "signed waiver"),
                            ("guardian", "guardian’s consent"),
                            ("screening", "screening for work with minors"),
                            ("tapping", "trained to tap"),
                            ("checking", "trained to check trees"),
                            ("species", "knows the species"),
                            ("food", "food handling"),
                            ("fire", "fire and pan"),
                        ],
                        max_length=12,
                        verbose_name="what",
                    ),
                ),
                ("version", models.CharField(blank=True, max_length=40, verbose_name="version")),
                ("valid_from", models.DateField(verbose_name="from")),
                ("valid_to", models.DateField(blank=True, null=True, verbose_name="valid to")),
                ("note", models.CharField(blank=True, max_length=200, verbose_name="note")),
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
                    "vouched_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "historical credential",
                "verbose_name_plural": "historical credentials",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalGroup",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("name", models.CharField(db_index=True, max_length=80, verbose_name="name")),
                ("area", models.JSONField(blank=True, null=True, verbose_name="area")),
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
                "verbose_name": "historical group",
                "verbose_name_plural": "historical groups",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalMembership",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("coordinator", "coordinator"),
                            ("lead", "group lead"),
                            ("volunteer", "volunteer"),
                            ("depot_keeper", "depot keeper"),
                            ("boil_lead", "boil lead"),
                            ("steward", "share steward"),
                            ("reviewer", "reviewer"),
                        ],
                        max_length=16,
                        verbose_name="role",
                    ),
                ),
                ("date_from", models.DateField(verbose_name="from")),
                ("date_to", models.DateField(blank=True, null=True, verbose_name="to")),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
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
            ],
            options={
                "verbose_name": "historical role",
                "verbose_name_plural": "historical roles",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalPerson",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("key", models.UUIDField(db_index=True, default=uuid.uuid4, editable=False)),
                ("display_name", models.CharField(max_length=80, verbose_name="name")),
                (
                    "email",
                    models.EmailField(blank=True, db_index=True, max_length=254, null=True, verbose_name="e-mail"),
                ),
                ("language", models.CharField(default="en", max_length=8, verbose_name="language")),
                (
                    "units",
                    models.CharField(
                        choices=[("metric", "litres, centimetres, °C"), ("us", "US gallons, inches, °F")],
                        default="metric",
                        max_length=8,
                        verbose_name="units",
                    ),
                ),
                ("carry_limit_g", models.PositiveIntegerField(default=20000, verbose_name="most to carry")),
                (
                    "age_band",
                    models.CharField(
                        choices=[("adult", "18 or older"), ("youth", "16 or 17"), ("child", "under 16")],
                        default="adult",
                        max_length=8,
                        verbose_name="age",
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
                ("joined_at", models.DateTimeField(default=django.utils.timezone.now)),
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
                "verbose_name": "historical person",
                "verbose_name_plural": "historical persons",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="SignInLink",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("token_hash", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("expires_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
                (
                    "made_by",
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
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sign_in_links",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-made_at",),
            },
        ),
        migrations.CreateModel(
            name="Credential",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("waiver", "signed waiver"),
                            ("guardian", "guardian’s consent"),
                            ("screening", "screening for work with minors"),
                            ("tapping", "trained to tap"),
                            ("checking", "trained to check trees"),
                            ("species", "knows the species"),
                            ("food", "food handling"),
                            ("fire", "fire and pan"),
                        ],
                        max_length=12,
                        verbose_name="what",
                    ),
                ),
                ("version", models.CharField(blank=True, max_length=40, verbose_name="version")),
                ("valid_from", models.DateField(verbose_name="from")),
                ("valid_to", models.DateField(blank=True, null=True, verbose_name="valid to")),
                ("note", models.CharField(blank=True, max_length=200, verbose_name="note")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="credentials",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "vouched_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "credential",
                "ordering": ("person", "kind", "-valid_from"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("valid_to", None), ("valid_to__gte", models.F("valid_from")), _connector="OR"
                        ),
                        name="credential_ends_after_start",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("coordinator", "coordinator"),
                            ("lead", "group lead"),
                            ("volunteer", "volunteer"),
                            ("depot_keeper", "depot keeper"),
                            ("boil_lead", "boil lead"),
                            ("steward", "share steward"),
                            ("reviewer", "reviewer"),
                        ],
                        max_length=16,
                        verbose_name="role",
                    ),
                ),
                ("date_from", models.DateField(verbose_name="from")),
                ("date_to", models.DateField(blank=True, null=True, verbose_name="to")),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to="volunteers.group",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "role",
                "ordering": ("person", "role", "pk"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("date_to", None), ("date_to__gte", models.F("date_from")), _connector="OR"),
                        name="membership_ends_after_start",
                    )
                ],
            },
        ),
    ]
