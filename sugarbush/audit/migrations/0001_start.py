import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="AuditEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
                ("act", models.CharField(max_length=60)),
                ("subject_kind", models.CharField(max_length=60)),
                ("subject_id", models.CharField(max_length=60)),
                ("subject_text", models.CharField(blank=True, max_length=200)),
                ("group_id", models.BigIntegerField(null=True)),
                ("reason", models.TextField(blank=True)),
                ("old", models.JSONField(default=dict)),
                ("new", models.JSONField(default=dict)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "act in the history",
                "ordering": ("-at", "-pk"),
                "indexes": [models.Index(fields=["subject_kind", "subject_id"], name="audit_by_subject")],
            },
        ),
    ]
