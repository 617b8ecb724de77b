"""A final share stands as it is, but for one thing: the name of a person who asked for it to go becomes their number.

The guard of shares_share is made anew; those of the other tables, and what else is frozen, stay as 0002 made them.
"""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

TABLE = "shares_share"
FROZEN = "EXISTS (SELECT 1 FROM shares_sharerun r WHERE r.id = OLD.run_id AND r.state IN ('final', 'superseded'))"
COLUMNS = ("run_id", "party", "person_id", "owner_id", "working", "entitled_ml", "jars", "given_ml")
FORGOTTEN = "(OLD.person_id IS NOT NULL AND NEW.name = 'A former volunteer ' || OLD.person_id)"
SAYS = "what was published or is final is never changed"


def make(schema_editor: BaseDatabaseSchemaEditor, *, names_may_go: bool) -> None:
    postgres = schema_editor.connection.vendor == "postgresql"
    differs = "IS DISTINCT FROM" if postgres else "IS NOT"
    name = f"NEW.name {differs} OLD.name" + (f" AND NOT {FORGOTTEN}" if names_may_go else "")
    changed = " OR ".join([f"NEW.{column} {differs} OLD.{column}" for column in COLUMNS] + [f"({name})"])
    if postgres:
        schema_editor.execute(
            f"CREATE OR REPLACE FUNCTION {TABLE}_stands() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
            f" IF ({FROZEN}) AND ({changed}) THEN RAISE EXCEPTION '{SAYS}' USING ERRCODE = 'check_violation';"
            f" END IF; RETURN NEW; END $$"
        )
        return
    schema_editor.execute(f"DROP TRIGGER {TABLE}_stands")
    schema_editor.execute(
        f"CREATE TRIGGER {TABLE}_stands BEFORE UPDATE ON {TABLE}"
        f" WHEN ({FROZEN}) AND ({changed}) BEGIN SELECT RAISE(ABORT, '{SAYS}'); END"
    )


def let_go(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    make(schema_editor, names_may_go=True)


def hold_again(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    make(schema_editor, names_may_go=False)


class Migration(migrations.Migration):
    dependencies = [("shares", "0002_final_stands")]

    operations = [migrations.RunPython(let_go, hold_again)]
