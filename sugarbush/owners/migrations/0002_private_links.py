import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("owners", "0001_start"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="OwnerLink",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("token_hash", models.CharField(editable=False, max_length=64, unique=True)),
                ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("good_to", models.DateField(verbose_name="opens until")),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("last_pressed_at", models.DateTimeField(null=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="links", to="owners.owner"
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-made_at", "-pk"),
            },
        ),
        migrations.CreateModel(
            name="OwnerAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "said",
                    models.CharField(
                        choices=[("yes", "said yes"), ("no", "said no"), ("stop", "asked to stop")], max_length=4
                    ),
                ),
                ("name", models.CharField(blank=True, max_length=120, verbose_name="name as typed")),
                ("wording_version", models.CharField(blank=True, max_length=20)),
                ("wording", models.TextField(blank=True)),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "permission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="answers_by_link",
                        to="owners.permission",
                    ),
                ),
                (
                    "link",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="answers", to="owners.ownerlink"
                    ),
                ),
            ],
            options={
                "ordering": ("at", "pk"),
            },
        ),
        migrations.AddConstraint(
            model_name="ownerlink",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at", None)), fields=("owner",), name="one_link_an_owner_not_withdrawn"
            ),
        ),
        migrations.AddConstraint(
            model_name="ownerlink",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("withdrawn_at", None), ("withdrawn_by", None)),
                    models.Q(("withdrawn_at__isnull", False), ("withdrawn_by__isnull", False)),
                    _connector="OR",
                ),
                name="withdrawn_link_names_by_whom",
            ),
        ),
        migrations.AddConstraint(
            model_name="owneranswer",
            constraint=models.UniqueConstraint(fields=("permission", "said"), name="said_once_of_a_slip"),
        ),
        migrations.AddConstraint(
            model_name="owneranswer",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("said", "yes"), _negated=True),
                    models.Q(
                        models.Q(("wording", ""), _negated=True),
                        models.Q(("wording_version", ""), _negated=True),
                        models.Q(("name", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="a_yes_by_link_keeps_its_words",
            ),
        ),
    ]
