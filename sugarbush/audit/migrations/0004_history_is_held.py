"""Triggers: the history is only ever added to, whoever asks."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

from sugarbush.audit import append_only


def put_up(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.put_up(schema_editor.connection)


def take_down(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    append_only.take_down(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("audit", "0003_no_names")]

    operations = [migrations.RunPython(put_up, take_down)]
