import django.db.models.deletion
import django.utils.timezone
import simple_history.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("trees", "0001_start"),
        ("volunteers", "0001_start"),
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="HistoricalOwner",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                (
                    "kind",
                    models.CharField(
                        choices=[("person", "person"), ("public", "public body"), ("institution", "institution")],
                        default="person",
                        max_length=12,
                        verbose_name="kind",
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
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
            ],
            options={
                "verbose_name": "historical owner",
                "verbose_name_plural": "historical owners",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Owner",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                (
                    "kind",
                    models.CharField(
                        choices=[("person", "person"), ("public", "public body"), ("institution", "institution")],
                        default="person",
                        max_length=12,
                        verbose_name="kind",
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="owners",
                        to="volunteers.group",
                    ),
                ),
            ],
            options={
                "verbose_name": "owner",
                "ordering": ("name", "pk"),
            },
        ),
        migrations.CreateModel(
            name="HistoricalPermission",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("number", models.CharField(db_index=True, max_length=20, verbose_name="number")),
                ("uuid", models.UUIDField(db_index=True, editable=False, null=True)),
                (
                    "capacity",
                    models.CharField(
                        choices=[
                            ("owner", "the owner"),
                            ("agency", "the public body that owns it"),
                            ("tenant", "a tenant, with the owner’s written consent"),
                            ("occupant", "lives there, but is not the owner"),
                        ],
                        default="owner",
                        max_length=10,
                        verbose_name="who signs",
                    ),
                ),
                ("signed_by", models.CharField(blank=True, max_length=120, verbose_name="name of who said it")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "being written"),
                            ("asked", "asked"),
                            ("no_answer", "no answer"),
                            ("refused", "said no"),
                            ("granted", "said yes"),
                            ("suspended", "suspended"),
                            ("revoked", "taken back"),
                        ],
                        default="draft",
                        max_length=10,
                    ),
                ),
                ("date_from", models.DateField(blank=True, null=True, verbose_name="from")),
                ("date_to", models.DateField(blank=True, null=True, verbose_name="to")),
                ("most_taps", models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="most taps a tree")),
                ("least_diameter_um", models.PositiveIntegerField(blank=True, null=True, verbose_name="least trunk")),
                (
                    "most_height_mm",
                    models.PositiveIntegerField(blank=True, null=True, verbose_name="hole no higher than"),
                ),
                ("largest_bit_um", models.PositiveIntegerField(blank=True, null=True, verbose_name="largest bit")),
                ("most_depth_mm", models.PositiveIntegerField(blank=True, null=True, verbose_name="deepest hole")),
                (
                    "public_number",
                    models.CharField(blank=True, max_length=60, verbose_name="number of the public permit"),
                ),
                ("fee_text", models.CharField(blank=True, max_length=80, verbose_name="fee")),
                ("insurance_to", models.DateField(blank=True, null=True, verbose_name="insurance proof until")),
                ("conditions", models.TextField(blank=True, verbose_name="other conditions")),
                (
                    "share_wish",
                    models.CharField(
                        choices=[("none", "none, with thanks"), ("jar", "a jar"), ("donate", "give it to others")],
                        default="none",
                        max_length=8,
                        verbose_name="share",
                    ),
                ),
                (
                    "belongs_because",
                    models.CharField(blank=True, max_length=200, verbose_name="how we know that the trees are theirs"),
                ),
                ("evidence", models.TextField(blank=True, max_length=100, verbose_name="scan")),
                ("evidence_note", models.CharField(blank=True, max_length=200, verbose_name="how it was given")),
                ("asked_on", models.DateField(blank=True, null=True)),
                ("ended_at", models.DateTimeField(null=True)),
                ("end_reason", models.CharField(blank=True, max_length=300)),
                ("edition", models.PositiveIntegerField(default=1, editable=False)),
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
                    "written_by",
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
                    "owner",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="owners.owner",
                        verbose_name="who owns the trees",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical permission",
                "verbose_name_plural": "historical permissions",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalOwnerContact",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("phone", models.CharField(blank=True, max_length=40, verbose_name="telephone")),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="e-mail")),
                ("address", models.CharField(blank=True, max_length=200, verbose_name="address")),
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
                    "owner",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="owners.owner",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical owner contact",
                "verbose_name_plural": "historical owner contacts",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="OwnerContact",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("phone", models.CharField(blank=True, max_length=40, verbose_name="telephone")),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="e-mail")),
                ("address", models.CharField(blank=True, max_length=200, verbose_name="address")),
                ("note", models.CharField(blank=True, max_length=400, verbose_name="note")),
                (
                    "owner",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="contact", to="owners.owner"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Permission",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(max_length=20, unique=True, verbose_name="number")),
                ("uuid", models.UUIDField(editable=False, null=True, unique=True)),
                (
                    "capacity",
                    models.CharField(
                        choices=[
                            ("owner", "the owner"),
                            ("agency", "the public body that owns it"),
                            ("tenant", "a tenant, with the owner’s written consent"),
                            ("occupant", "lives there, but is not the owner"),
                        ],
                        default="owner",
                        max_length=10,
                        verbose_name="who signs",
                    ),
                ),
                ("signed_by", models.CharField(blank=True, max_length=120, verbose_name="name of who said it")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "being written"),
                            ("asked", "asked"),
                            ("no_answer", "no answer"),
                            ("refused", "said no"),
                            ("granted", "said yes"),
                            ("suspended", "suspended"),
                            ("revoked", "taken back"),
                        ],
                        default="draft",
                        max_length=10,
                    ),
                ),
                ("date_from", models.DateField(blank=True, null=True, verbose_name="from")),
                ("date_to", models.DateField(blank=True, null=True, verbose_name="to")),
                ("most_taps", models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="most taps a tree")),
                ("least_diameter_um", models.PositiveIntegerField(blank=True, null=True, verbose_name="least trunk")),
                (
                    "most_height_mm",
                    models.PositiveIntegerField(blank=True, null=True, verbose_name="hole no higher than"),
                ),
                ("largest_bit_um", models.PositiveIntegerField(blank=True, null=True, verbose_name="largest bit")),
                ("most_depth_mm", models.PositiveIntegerField(blank=True, null=True, verbose_name="deepest hole")),
                (
                    "public_number",
                    models.CharField(blank=True, max_length=60, verbose_name="number of the public permit"),
                ),
                ("fee_text", models.CharField(blank=True, max_length=80, verbose_name="fee")),
                ("insurance_to", models.DateField(blank=True, null=True, verbose_name="insurance proof until")),
                ("conditions", models.TextField(blank=True, verbose_name="other conditions")),
                (
                    "share_wish",
                    models.CharField(
                        choices=[("none", "none, with thanks"), ("jar", "a jar"), ("donate", "give it to others")],
                        default="none",
                        max_length=8,
                        verbose_name="share",
                    ),
                ),
                (
                    "belongs_because",
                    models.CharField(blank=True, max_length=200, verbose_name="how we know that the trees are theirs"),
                ),
                ("evidence", models.FileField(blank=True, upload_to="permissions", verbose_name="scan")),
                ("evidence_note", models.CharField(blank=True, max_length=200, verbose_name="how it was given")),
                ("asked_on", models.DateField(blank=True, null=True)),
                ("ended_at", models.DateTimeField(null=True)),
                ("end_reason", models.CharField(blank=True, max_length=300)),
                ("edition", models.PositiveIntegerField(default=1, editable=False)),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="permissions",
                        to="volunteers.group",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="permissions",
                        to="owners.owner",
                        verbose_name="who owns the trees",
                    ),
                ),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "verbose_name": "permission",
                "ordering": ("-pk",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("date_from", None),
                            ("date_to", None),
                            ("date_to__gte", models.F("date_from")),
                            _connector="OR",
                        ),
                        name="permission_ends_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "granted"), _negated=True),
                            models.Q(("date_from__isnull", False), ("date_to__isnull", False)),
                            _connector="OR",
                        ),
                        name="a_yes_has_its_days",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("most_taps", None), ("most_taps__lte", 2), _connector="OR"),
                        name="permission_at_most_two_taps",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PermissionTree",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "permission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="lines", to="owners.permission"
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="permission_lines", to="trees.tree"
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("permission", "tree"), name="tree_named_once_a_slip")],
            },
        ),
        migrations.AddField(
            model_name="permission",
            name="trees",
            field=models.ManyToManyField(related_name="permissions", through="owners.PermissionTree", to="trees.tree"),
        ),
        migrations.CreateModel(
            name="TreeOwner",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("evidence", models.CharField(max_length=200, verbose_name="how we know")),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="owns", to="owners.owner"
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="owned_by", to="trees.tree"
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("tree", "owner"), name="owner_named_once_a_tree")],
            },
        ),
    ]
