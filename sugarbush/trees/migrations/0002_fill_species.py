"""Fills the species table from the built-in list; what a programme has changed since is left as it is."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps


def fill(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    from sugarbush.trees.reading.species import built_in_species

    species = apps.get_model("trees", "Species")
    species.objects.bulk_create(
        [
            species(
                botanical=one.botanical,
                common=one.common,
                code=one.symbol,
                tappable=one.tappable,
                look_alike="maples, when the leaves are gone" if one.look_alike else "",
            )
            for one in built_in_species()
        ],
        ignore_conflicts=True,
    )


class Migration(migrations.Migration):
    dependencies = [("trees", "0001_start")]
    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
