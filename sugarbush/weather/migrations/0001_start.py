import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("volunteers", "0001_start"),
    ]

    operations = [
        migrations.CreateModel(
            name="WeatherDay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("day", models.DateField(verbose_name="day")),
                (
                    "source",
                    models.CharField(
                        choices=[("measured", "measured"), ("forecast", "forecast")], default="measured", max_length=8
                    ),
                ),
                ("low_c", models.DecimalField(decimal_places=1, max_digits=4, verbose_name="coldest")),
                ("high_c", models.DecimalField(decimal_places=1, max_digits=4, verbose_name="warmest")),
                ("note", models.CharField(blank=True, max_length=200)),
                (
                    "entered_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("day",),
                "constraints": [
                    models.UniqueConstraint(fields=("day", "source"), name="one_weather_a_day_and_source"),
                    models.CheckConstraint(
                        condition=models.Q(("high_c__gte", models.F("low_c"))), name="warmest_not_below_coldest"
                    ),
                ],
            },
        ),
    ]
