"""The house rules as they are published, held by triggers; what somebody said on their own phone is marked so."""

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

from sugarbush.volunteers import append_only


def put_up(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.put_up(schema_editor.connection)


def take_down(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.take_down(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [
        ("volunteers", "0003_devices"),
    ]

    operations = [
        migrations.AddField(
            model_name="credential",
            name="by_self",
            field=models.BooleanField(default=False, verbose_name="said by the person"),
        ),
        migrations.AddField(
            model_name="historicalcredential",
            name="by_self",
            field=models.BooleanField(default=False, verbose_name="said by the person"),
        ),
        migrations.CreateModel(
            name="HouseRules",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField(unique=True, verbose_name="version")),
                ("words", models.TextField(max_length=6000, verbose_name="the text")),
                ("asks_anew", models.BooleanField(default=True, verbose_name="everybody is asked again")),
                ("needed_from", models.DateField(verbose_name="needed from")),
                ("what_changed", models.CharField(blank=True, max_length=200, verbose_name="what is new in it")),
                ("published_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "published_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "verbose_name": "house rules",
                "ordering": ("-number",),
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("number__gte", 1)), name="house_rules_count_from_one"),
                    models.CheckConstraint(
                        condition=models.Q(("words", ""), _negated=True), name="house_rules_say_something"
                    ),
                ],
            },
        ),
        migrations.RunPython(put_up, take_down),
    ]
