"""Hand-outs of a share, what is said when jars stay, and the database's own guard of what was published or is final."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

# Table, when a row is frozen, the columns that then never change, what else must hold.
# SQLite drops triggers when it rebuilds a table: a later migration that changes a column of these makes them again.
GUARDS = (
    (
        "shares_sharerule",
        "OLD.published_at IS NOT NULL",
        ("season_id", "version", "terms", "words", "reason", "published_at", "published_by_id"),
        "",
    ),
    (
        "shares_sharerun",
        "OLD.state IN ('final', 'superseded')",
        ("season_id", "number", "rule_id", "inputs", "inputs_hash", "pool_ml", "supersedes_id", "final_at"),
        "NOT (NEW.state = OLD.state OR (OLD.state = 'final' AND NEW.state = 'superseded'))",
    ),
    (
        "shares_share",
        "EXISTS (SELECT 1 FROM shares_sharerun r WHERE r.id = OLD.run_id AND r.state IN ('final', 'superseded'))",
        ("run_id", "party", "person_id", "owner_id", "name", "working", "entitled_ml", "jars", "given_ml"),
        "",
    ),
)
SAYS = "what was published or is final is never changed"


def make_guards(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    differs = "IS DISTINCT FROM" if schema_editor.connection.vendor == "postgresql" else "IS NOT"
    for table, frozen, columns, also in GUARDS:
        changed = " OR ".join([f"NEW.{name} {differs} OLD.{name}" for name in columns] + ([also] if also else []))
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE FUNCTION {table}_stands() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
                f" IF ({frozen}) AND ({changed}) THEN RAISE EXCEPTION '{SAYS}' USING ERRCODE = 'check_violation';"
                f" END IF; RETURN NEW; END $$"
            )
            schema_editor.execute(
                f"CREATE TRIGGER {table}_stands BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {table}_stands()"
            )
        else:
            schema_editor.execute(
                f"CREATE TRIGGER {table}_stands BEFORE UPDATE ON {table}"
                f" WHEN ({frozen}) AND ({changed}) BEGIN SELECT RAISE(ABORT, '{SAYS}'); END"
            )


def drop_guards(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    for table, *_rest in GUARDS:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(f"DROP TRIGGER {table}_stands ON {table}")
            schema_editor.execute(f"DROP FUNCTION {table}_stands()")
        else:
            schema_editor.execute(f"DROP TRIGGER {table}_stands")


class Migration(migrations.Migration):
    dependencies = [
        ("lots", "0001_start"),
        ("shares", "0001_start"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="share",
            name="issues",
            field=models.ManyToManyField(related_name="shares", to="lots.jarissue"),
        ),
        migrations.AddField(
            model_name="sharerun",
            name="collect_by",
            field=models.DateField(null=True, verbose_name="jars are kept until"),
        ),
        migrations.AddField(
            model_name="sharerun",
            name="left_by",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="sharerun",
            name="left_reason",
            field=models.CharField(blank=True, max_length=400, verbose_name="why jars stay"),
        ),
        migrations.RunPython(make_guards, drop_guards),
    ]
