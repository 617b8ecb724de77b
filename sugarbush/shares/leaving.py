"""A share names its party as it stood; when a person's name goes, it goes there too."""

from __future__ import annotations

from sugarbush.shares import figures
from sugarbush.shares.models import RunState, Share, ShareRun
from sugarbush.volunteers.models import Person


def name_put_right(person: Person, _addresses: frozenset[str] = frozenset()) -> None:
    """Past the model's own guard of final shares: the database allows this one name and nothing else (0003).

    The figures of a working-out that is not sealed say the number too; nothing is worked out from a name.
    """
    Share.objects.filter(person=person).update(name=person.display_name)
    open_ones = ShareRun.objects.exclude(state__in=(RunState.FINAL, RunState.SUPERSEDED))
    for run in open_ones.filter(shares__person=person).distinct():
        for row in run.inputs["people"]:
            if row["id"] == person.pk:
                row["name"] = person.display_name
        ShareRun.objects.filter(pk=run.pk).update(inputs=run.inputs, inputs_hash=figures.digest(run.inputs))
