"""The distance to buildings in millimetres: whole metres would send 15 ft back as 16 ft. No page has written one yet."""

from django.db import migrations, models

DISTANCE = models.PositiveIntegerField(blank=True, null=True, verbose_name="distance to buildings")


class Migration(migrations.Migration):
    dependencies = [("boils", "0002_pan_and_crew")]

    operations = [
        migrations.RenameField("boilday", "clear_m", "clear_mm"),
        migrations.RenameField("historicalboilday", "clear_m", "clear_mm"),
        migrations.AlterField("boilday", "clear_mm", DISTANCE),
        migrations.AlterField("historicalboilday", "clear_mm", DISTANCE.clone()),
    ]
