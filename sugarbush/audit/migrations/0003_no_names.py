"""Acts kept so far: whom each is about, and no person's name or e-mail address in them from here on."""

from typing import Any

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

PERSON = "volunteers.person"
OF_A_PERSON = ("Membership", "Credential")
PERSONAL = ("display_name", "email")


def without_names(values: dict[str, Any]) -> dict[str, Any]:
    kept = {name: value for name, value in values.items() if name not in PERSONAL}
    gone = [name for name in PERSONAL if name in values]
    return {**kept, "changed": gone} if gone else kept


def write(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    events = apps.get_model("audit", "AuditEvent").objects
    for pk in apps.get_model("volunteers", "Person").objects.values_list("pk", flat=True):
        events.filter(subject_kind=PERSON, subject_id=str(pk)).update(about_id=pk, subject_text="")
    for name in OF_A_PERSON:
        kind = f"volunteers.{name.lower()}"
        for pk, person_id in apps.get_model("volunteers", name).objects.values_list("pk", "person_id"):
            events.filter(subject_kind=kind, subject_id=str(pk)).update(about_id=person_id)
        for event in events.filter(subject_kind=kind).iterator():
            events.filter(pk=event.pk).update(subject_text=event.subject_text.rsplit(": ", 1)[-1])
    for event in events.filter(subject_kind=PERSON).exclude(old={}, new={}).iterator():
        events.filter(pk=event.pk).update(old=without_names(event.old), new=without_names(event.new))


class Migration(migrations.Migration):
    dependencies = [("audit", "0002_about_whom")]

    operations = [migrations.RunPython(write, migrations.RunPython.noop)]
