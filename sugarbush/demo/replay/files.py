"""The town's files come in: its streets for the base map, its trees for the list."""

from __future__ import annotations

import tempfile
from pathlib import Path

from sugarbush.demo import town
from sugarbush.demo.replay.cast import Cast, Plan
from sugarbush.demo.replay.clock import Story
from sugarbush.trees.files import ImportRun
from sugarbush.trees.taking import acts, stored
from sugarbush.trees.taking.run import take_in

TREES_FILE, FEATURES_FILE = "quillhaven-trees.csv", "quillhaven-trees.geojson"
STREETS_FILE = "quillhaven-streets.geojson"
FILES_DAY = -519


def write(story: Story, cast: Cast, plan: Plan, kept: list[Path]) -> None:
    """Both files, on the day after the programme opened. kept: filled with the copies the server keeps."""
    story.add(story.moment(FILES_DAY, 10), _take_files, cast, plan, kept)


def _take_files(cast: Cast, plan: Plan, kept: list[Path]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        streets, trees = Path(folder, STREETS_FILE), Path(folder, TREES_FILE)
        town.write_streets_geojson(streets)
        town.write_inventory_csv(trees, seed=plan.seed)
        for kind, path in ((ImportRun.Kind.STREETS, streets), (ImportRun.Kind.TREES, trees)):
            copy = stored.keep_copy(path)
            kept.append(copy.path)
            run = acts.bring(by=cast.coordinator, kind=kind, kept=copy, file_name=path.name)
            run = acts.start(by=cast.coordinator, run=run, in_background=False)
            done = take_in(run.pk)
            if done is None or done.state != ImportRun.State.DONE:
                raise RuntimeError(f"{path.name} was not taken in")
