"""After how many years the names of those who left go by themselves; empty: never."""

from django.core.validators import MinValueValidator
from django.db import migrations, models


def years() -> models.PositiveSmallIntegerField:
    return models.PositiveSmallIntegerField(
        blank=True,
        null=True,
        validators=[MinValueValidator(1)],
        verbose_name="years until the names of those who left go",
    )


class Migration(migrations.Migration):
    dependencies = [("seasons", "0002_keeping_and_syrup")]

    operations = [
        migrations.AddField("historicalprogramme", "forget_after_years", years()),
        migrations.AddField("programme", "forget_after_years", years()),
    ]
