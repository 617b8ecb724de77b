"""Why a vessel was filled past its mark, kept apart from other reasons."""

from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

from sugarbush.sap import append_only


def put_up(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.put_up(schema_editor.connection)


def take_down(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.take_down(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("sap", "0003_ledger_is_held")]

    operations = [
        # SQLite rebuilds the table for the new column and would lose the triggers without a word.
        migrations.RunPython(take_down, put_up),
        migrations.AddField("act", "overfill_reason", models.TextField(blank=True, default=""), preserve_default=False),
        migrations.RunPython(put_up, take_down),
    ]
