from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

from sugarbush.sap import append_only


def put_up(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.put_up(schema_editor.connection)


def take_down(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.take_down(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [
        ("sap", "0002_shut_lots"),
    ]

    operations = [
        # With the volume in them a balance is read from the index alone, however long the vessel's history.
        migrations.RemoveIndex(model_name="movement", name="movement_out"),
        migrations.RemoveIndex(model_name="movement", name="movement_in"),
        migrations.AddIndex(
            model_name="movement",
            index=models.Index(fields=["from_vessel", "seq", "volume_ml"], name="movement_out"),
        ),
        migrations.AddIndex(
            model_name="movement",
            index=models.Index(fields=["to_vessel", "seq", "volume_ml"], name="movement_in"),
        ),
        migrations.RunPython(put_up, take_down),
    ]
