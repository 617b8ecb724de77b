"""Devices that are signed in."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("volunteers", "0002_join_cards"),
    ]

    operations = [
        migrations.CreateModel(
            name="Device",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("key_hash", models.CharField(max_length=64, unique=True)),
                ("words", models.CharField(max_length=60)),
                ("came_in_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("seen_at", models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="devices",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-seen_at", "pk"),
            },
        ),
    ]
