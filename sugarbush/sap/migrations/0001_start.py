import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("kit", "0001_start"),
        ("seasons", "0001_start"),
        ("trees", "0001_start"),
        ("volunteers", "0001_start"),
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="Act",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("collect", "collected"),
                            ("deliver", "delivered"),
                            ("hand_over", "handed over"),
                            ("transfer", "moved between tanks"),
                            ("tip_out", "tipped out"),
                            ("boil", "put in a pan"),
                            ("draw_off", "drawn off"),
                            ("bottle", "bottled"),
                            ("issue", "issued"),
                            ("return", "returned"),
                            ("correct", "corrected"),
                        ],
                        max_length=10,
                    ),
                ),
                ("reason", models.TextField(blank=True)),
                (
                    "standing",
                    models.CharField(
                        choices=[
                            ("counted", "counts"),
                            ("review", "to review: not counted yet"),
                            ("not_ours", "real, but not ours to use"),
                        ],
                        default="counted",
                        max_length=8,
                    ),
                ),
                ("origin_kind", models.CharField(blank=True, max_length=20)),
                ("origin_uuid", models.UUIDField(null=True)),
                ("happened_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "approver",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "author",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="acts",
                        to="volunteers.group",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="acts",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="acts", to="seasons.season"
                    ),
                ),
                (
                    "tree",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="acts", to="trees.tree"
                    ),
                ),
            ],
            options={
                "ordering": ("recorded_at", "pk"),
                "indexes": [
                    models.Index(fields=["origin_kind", "origin_uuid"], name="act_by_origin"),
                    models.Index(fields=["season", "standing", "kind"], name="act_by_season"),
                    models.Index(fields=["tree", "season"], name="act_by_tree"),
                    models.Index(fields=["person", "season"], name="act_by_person"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Vessel",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("hands", "in hands"),
                            ("ahead", "ahead of its entries"),
                            ("tank", "tank"),
                            ("pan", "pan"),
                            ("lot", "lot"),
                        ],
                        max_length=6,
                    ),
                ),
                ("code", models.CharField(blank=True, max_length=40, verbose_name="code")),
                ("capacity_ml", models.PositiveIntegerField(blank=True, null=True, verbose_name="holds")),
                (
                    "usual_temperature_c",
                    models.DecimalField(
                        blank=True, decimal_places=1, max_digits=4, null=True, verbose_name="usual temperature"
                    ),
                ),
                ("out_of_use", models.BooleanField(default=False)),
                ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "depot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="vessels",
                        to="kit.depot",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="vessels",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="vessels", to="seasons.season"
                    ),
                ),
            ],
            options={
                "verbose_name": "vessel",
                "ordering": ("kind", "code", "pk"),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("kind", "hands")),
                        fields=("person", "season"),
                        name="one_pair_of_hands_a_season",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("kind", "hands"), _negated=True),
                        fields=("season", "kind", "code"),
                        name="vessel_code_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "hands"), _negated=True), ("person__isnull", False), _connector="OR"
                        ),
                        name="hands_are_somebodys",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Movement",
            fields=[
                ("seq", models.BigAutoField(primary_key=True, serialize=False)),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("happened_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("volume_ml", models.PositiveIntegerField()),
                ("sugar_brix", models.DecimalField(decimal_places=2, max_digits=4, null=True)),
                (
                    "cause",
                    models.CharField(
                        choices=[
                            ("out_of_tree", "came out of trees"),
                            ("rain_kept", "rain kept"),
                            ("measured_over", "measured over"),
                            ("discarded", "tipped out"),
                            ("rejected", "turned away at the depot"),
                            ("spilled", "spilled"),
                            ("measured_under", "measured under"),
                            ("evaporated", "driven off as steam"),
                            ("lost", "lost"),
                            ("filter", "held by the filter"),
                            ("issued", "issued"),
                            ("destroyed", "destroyed"),
                            ("moved", "moved"),
                        ],
                        max_length=16,
                    ),
                ),
                ("detail", models.CharField(blank=True, max_length=40)),
                (
                    "act",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="movements", to="sap.act"
                    ),
                ),
                (
                    "reverses",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reversed_by",
                        to="sap.movement",
                    ),
                ),
                (
                    "season",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="movements", to="seasons.season"
                    ),
                ),
                (
                    "from_vessel",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="out", to="sap.vessel"
                    ),
                ),
                (
                    "to_vessel",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="into", to="sap.vessel"
                    ),
                ),
            ],
            options={
                "ordering": ("seq",),
                "indexes": [
                    models.Index(fields=["season", "cause"], name="movement_by_cause"),
                    models.Index(fields=["from_vessel", "seq"], name="movement_out"),
                    models.Index(fields=["to_vessel", "seq"], name="movement_in"),
                ],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("volume_ml__gt", 0)), name="movement_moves_something"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("from_vessel__isnull", False), ("to_vessel__isnull", False), _connector="OR"
                        ),
                        name="movement_has_an_end",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("from_vessel", None),
                            ("to_vessel", None),
                            models.Q(("from_vessel", models.F("to_vessel")), _negated=True),
                            _connector="OR",
                        ),
                        name="movement_goes_elsewhere",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sugar_brix", None),
                            models.Q(("sugar_brix__gte", 0), ("sugar_brix__lte", 100)),
                            _connector="OR",
                        ),
                        name="movement_brix_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("cause", "moved"), ("from_vessel__isnull", False), ("to_vessel__isnull", False)),
                            models.Q(
                                ("cause__in", ["out_of_tree", "rain_kept", "measured_over"]),
                                ("from_vessel", None),
                                ("reverses", None),
                            ),
                            models.Q(
                                ("cause__in", ["out_of_tree", "rain_kept", "measured_over"]),
                                ("reverses__isnull", False),
                                ("to_vessel", None),
                            ),
                            models.Q(
                                (
                                    "cause__in",
                                    [
                                        "discarded",
                                        "rejected",
                                        "spilled",
                                        "measured_under",
                                        "evaporated",
                                        "lost",
                                        "filter",
                                        "issued",
                                        "destroyed",
                                    ],
                                ),
                                ("reverses", None),
                                ("to_vessel", None),
                            ),
                            models.Q(
                                (
                                    "cause__in",
                                    [
                                        "discarded",
                                        "rejected",
                                        "spilled",
                                        "measured_under",
                                        "evaporated",
                                        "lost",
                                        "filter",
                                        "issued",
                                        "destroyed",
                                    ],
                                ),
                                ("from_vessel", None),
                                ("reverses__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="movement_cause_fits_its_ends",
                    ),
                ],
            },
        ),
    ]
