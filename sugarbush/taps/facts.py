"""Everything the gate and the shown state ask about trees, read for many trees in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from sugarbush.core.trunk import allowed_taps, stricter_guideline
from sugarbush.owners.models import OwnerKind, Permission, PermissionState, PermissionTree, TreeOwner
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Assignment, AssignmentState, Tap
from sugarbush.trees.models import HealthCheck, Land, Treatment, Tree
from sugarbush.trees.records import TreatmentAnswer, Verdict


@dataclass
class TreeFacts:
    """What is known of one tree when the question is asked."""

    tree: Tree
    season: Season | None
    permissions: list[Permission] = field(default_factory=list)
    owners: list[TreeOwner] = field(default_factory=list)
    treatments: list[Treatment] = field(default_factory=list)
    check: HealthCheck | None = None
    taps: list[Tap] = field(default_factory=list)
    assignment: Assignment | None = None

    @property
    def spouts_in(self) -> list[Tap]:
        return [tap for tap in self.taps if tap.spout_in]

    @property
    def holes_this_season(self) -> list[Tap]:
        """Every hole of this season, whatever became of it; one to settle is a hole too."""
        return [tap for tap in self.taps if self.season is not None and tap.season_id == self.season.pk]

    @property
    def treated(self) -> Treatment | None:
        """A yes that nobody has cleared."""
        return next((t for t in self.treatments if t.answer == TreatmentAnswer.YES and t.cleared_at is None), None)

    @property
    def treatment_answer(self) -> Treatment | None:
        """The latest answer that stands; a cleared yes no longer does."""
        return next((t for t in self.treatments if t.cleared_at is None), None)

    def check_counts_on(self, day: dt.date) -> bool:
        if self.check is None or self.season is None or self.check.verdict == Verdict.FAIL:
            return False
        return self.check.date <= day <= self.check.counts_until(self.season.check_good_days)

    def within(self, permission: Permission, on: dt.date, act: str) -> bool:
        """Whether the permission counts for the act: any day of the tapping window to assign, today to tap."""
        if act == "assign" and self.season is not None:
            start, end = max(self.season.tapping_from, on), self.season.tapping_to
            if not (permission.is_live_kind and permission.date_from and permission.date_to):
                return False
            return permission.date_from <= end and permission.date_to >= start
        return permission.live_on(on)

    def live(self, on: dt.date, act: str = "tap") -> list[Permission]:
        return [p for p in self.permissions if self.within(p, on, act)]

    def live_ever(self) -> bool:
        """Whether any slip is a standing yes, whatever its days."""
        return any(p.is_live_kind for p in self.permissions)

    def covered(self, on: dt.date, act: str = "tap") -> bool:
        """Whether every owner who has to has said yes, and counts."""
        return not self.uncovered(on, act) and self.tree.land != Land.UNKNOWN and self.someone_owns()

    def someone_owns(self) -> bool:
        if self.tree.land == Land.PUBLIC:
            return True
        needed = 2 if self.tree.land == Land.SHARED else 1
        return len(self.owners) >= needed

    def uncovered(self, on: dt.date, act: str) -> list[str]:
        """Whose yes is missing: names of owners, or "" for a public body not named yet."""
        live = self.live(on, act)
        said = {p.owner_id for p in live}
        missing = [row.owner.name for row in self.owners if row.owner_id not in said]
        if self.tree.land == Land.PUBLIC and not any(p.owner.kind == OwnerKind.PUBLIC for p in live):
            named = [row.owner.name for row in self.owners if row.owner.kind == OwnerKind.PUBLIC]
            return named or [""]
        return missing

    def allowance(self, on: dt.date, act: str = "tap") -> Allowance:
        return Allowance.of(self, on, act)


@dataclass(frozen=True, kw_only=True)
class Allowance:
    """How many taps this season, and what each rule says: the smallest of them counts."""

    diameter_um: int | None
    size_taps: int
    limits: tuple[tuple[str, int], ...]
    too_thin_for: Permission | None
    taps: int
    holes: int

    @property
    def left(self) -> int:
        return max(0, self.taps - self.holes)

    @classmethod
    def of(cls, facts: TreeFacts, on: dt.date, act: str) -> Allowance:
        tree, season = facts.tree, facts.season
        size_taps = 0
        if tree.diameter_um and season is not None:
            first, *second = season.thresholds_um
            guideline = stricter_guideline(
                name=season.guideline_name, first_um=first, second_um=second[0] if second else None
            )
            size_taps = allowed_taps(tree.diameter_um, guideline)
        limits: list[tuple[str, int]] = []
        too_thin = None
        for permission in facts.live(on, act):
            if permission.most_taps is not None:
                limits.append((permission.label, permission.most_taps))
            if permission.least_diameter_um and (tree.diameter_um or 0) < permission.least_diameter_um:
                too_thin = permission
        if facts.check is not None and facts.check.verdict == Verdict.WATCH:
            limits.append(("watch", 1))
        taps = 0 if too_thin else min([size_taps, *(most for _, most in limits)])
        return cls(
            diameter_um=tree.diameter_um,
            size_taps=size_taps,
            limits=tuple(limits),
            too_thin_for=too_thin,
            taps=taps,
            holes=len(facts.holes_this_season),
        )


def read_facts(tree_ids: Iterable[int], season: Season | None = None) -> dict[int, TreeFacts]:
    """The facts of many trees; about seven queries, however many trees."""
    ids = list(tree_ids)
    season = season or Season.current()
    found = {
        tree.pk: TreeFacts(tree=tree, season=season)
        for tree in Tree.objects.filter(pk__in=ids).select_related("species", "group", "inventory_species")
    }
    lines = PermissionTree.objects.filter(tree_id__in=ids).select_related("permission__owner").order_by("-permission")
    for line in lines:
        found[line.tree_id].permissions.append(line.permission)
    for row in TreeOwner.objects.filter(tree_id__in=ids).select_related("owner"):
        found[row.tree_id].owners.append(row)
    for tree_id, treatments in Treatment.objects.for_trees(ids).items():
        if tree_id in found:
            found[tree_id].treatments = treatments
    for check in HealthCheck.objects.filter(tree_id__in=ids).order_by("date", "pk"):
        found[check.tree_id].check = check
    for tap in Tap.objects.filter(tree_id__in=ids).select_related("by", "season").order_by("placed_at"):
        found[tap.tree_id].taps.append(tap)
    if season is not None:
        live = Assignment.objects.filter(tree_id__in=ids, season=season).exclude(state=AssignmentState.ENDED)
        for assignment in live.select_related("group", "person"):
            found[assignment.tree_id].assignment = assignment
    return found


def latest_asked(permissions: list[Permission]) -> Permission | None:
    """The newest slip that still waits for an answer or was stopped for a while."""
    waiting = {PermissionState.ASKED, PermissionState.NO_ANSWER, PermissionState.SUSPENDED}
    return next((p for p in permissions if p.state in waiting), None)
