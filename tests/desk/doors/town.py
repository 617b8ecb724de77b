"""One of everything an address can be about, all of it North Bank's or the whole programme's, and who knocks."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.utils import timezone

from sugarbush.archive.models import Archive
from sugarbush.desk.models import PublicPage
from sugarbush.gathering.models import CollectionState
from sugarbush.gathering.round_acts import make_round
from sugarbush.gathering.run_acts import give_runs
from sugarbush.lots.recalls import open_recall
from sugarbush.notices.models import Notice
from sugarbush.owners import links
from sugarbush.owners.models import OwnerContact
from sugarbush.papers.models import Document, LabelSheet, PrintJob
from sugarbush.papers.models_sheets import RoundSheet
from sugarbush.papers.numbers import number_of
from sugarbush.phone.models import Photo
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.shares import queries, rules, runs
from sugarbush.shares.models import ShareRun
from sugarbush.shares.terms import PartTerm, Terms
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Tree
from sugarbush.trees.records import TreeObservation
from sugarbush.volunteers import access, calendar_links
from sugarbush.volunteers import rules as house_rules
from sugarbush.volunteers.models import Membership, Person, Role
from tests import make
from tests.boils import cast
from tests.chain.jar_season import JarSeason, ago
from tests.lots import syrup

RULE = Terms(parts=(PartTerm(measure="sugar"),))


class Town:
    """The rows; `values` gives, for the name of a gap in an address, what stands in it."""

    def __init__(self) -> None:
        self.jars = jars = JarSeason()
        self.group = make.group()
        self.tree: Tree = make.tapped_tree(address="12 Larkspur Street", land="private")
        self.look = TreeObservation.objects.create(tree=self.tree, date=make.today(), by=jars.bob, photo="trees/x.jpg")
        self.check, self.tap = self.tree.checks.get(), self.tree.taps.get()
        self.to_settle = make.tap(make.given_tree(), state="to_settle", settle_reasons=["Lena was quicker."])
        self.entry = make.collection(self.tree, by=jars.bob, litres="3", happened_at=ago(30))
        self.odd = make.collection(make.given_tree(), by=jars.bob, litres="3", happened_at=ago(29))
        assert self.odd.state == CollectionState.REVIEW
        self.photo = Photo.objects.create(entry=self.entry, person=jars.bob, file="visits/x.jpg", sent_hash="0" * 64)
        self.people()
        self.papers()
        self.walk()
        self.pan()
        self.syrup()
        self.shares()
        self.words()
        self.prints()

    def people(self) -> None:
        self.newcomer = make.person("Tove", Role.VOLUNTEER, "North Bank", ["tapping"])
        self.role, self.credential = self.newcomer.memberships.get(), self.newcomer.credentials.get()
        self.sheet = make.cards_of()
        nell = make.person("Nell", Role.LEAD, "Mill Race", make.ALL_CREDENTIALS)
        otto = make.person("Otto", Role.VOLUNTEER, "Mill Race", ["tapping", "checking", "species"])
        sol = make.person("Sol", Role.STEWARD, None)
        past = make.person("Pip", None)
        Membership.objects.create(
            person=past,
            group=self.group,
            role=Role.LEAD,
            date_from=make.today() - make.days(300),
            date_to=make.today() - make.days(1),
        )
        cast_ = {
            "coordinator": make.alice(),
            "lead": make.lena(),
            "volunteer": make.bob(),
            "depot keeper": make.dora(),
            "boil lead": make.kai(),
            "steward": sol,
            "reviewer": make.rhea(),
            "other lead": nell,
            "other volunteer": otto,
            "lapsed lead": past,
            "stranger": make.charlie(),
        }
        self.cast: dict[str, Person] = cast_

    def papers(self) -> None:
        self.owner = make.owner("Fern Abernathy-Sole", "person")
        self.owner.group = self.group
        self.owner.save()
        OwnerContact.objects.create(owner=self.owner, phone="555-0142", email="fern@quillhaven.example")
        self.tree.permission_lines.all().delete()
        make.owns(self.tree, self.owner)
        self.slip = make.permission(
            self.tree, owner=self.owner, capacity="owner", signed_by="Fern Abernathy-Sole", group=self.group
        )
        self.token = links.make_link(owner=self.owner, by=make.lena(), good_to=make.today() + make.days(30))
        self.container, self.depot = make.container(), make.depot()
        self.file = ImportRun.objects.create(
            file_name="trees.csv", path="x", sha256="0" * 64, started_by=make.alice(), mapping={}
        )

    def walk(self) -> None:
        self.round = make_round(
            season=make.season(),
            group=self.group,
            by=make.lena(),
            name="First",
            latest_start=dt.time(16),
            trees=[self.tree],
        )
        self.run = give_runs(
            found=self.round, by=make.lena(), first=make.today(), last=make.today(), walks=[make.bob()]
        )[0]

    def pan(self) -> None:
        self.batch = cast.open_pan(site="The other yard")
        self.day = self.batch.boil_day
        start = timezone.now()
        self.shift = self.day.shifts.create(begins=start, ends=start + dt.timedelta(hours=2))
        self.act = self.jars.drawn.act

    def syrup(self) -> None:
        self.lot = syrup.released()
        self.recall = open_recall(
            season=make.season(), lots={self.jars.lot: Decimal(1)}, reason="A lid was loose.", by=make.kai()
        )

    def shares(self) -> None:
        sol = self.cast["steward"]
        rules.publish(
            rule=rules.save_draft(season=make.season(), by=sol, terms=RULE), by=sol, reason="The first one was unclear."
        )
        self.share_run: ShareRun = runs.open_questions(
            run=runs.make_run(season=make.season(), by=sol), by=sol, until=make.today() + make.days(7)
        )
        self.share = self.share_run.shares.get(person=make.bob())
        self.question = queries.ask(share=self.share, by=make.bob(), text="Where are my Tuesday pails?")
        self.rule = rules.save_draft(season=make.season(), by=sol, terms=RULE)
        self.last_year = Season.objects.create(
            year=make.today().year - 1,
            state=SeasonState.CLOSED,
            tapping_from=make.today() - make.days(380),
            tapping_to=make.today() - make.days(320),
        )

    def words(self) -> None:
        """House rules that nobody needs yet, a message that is being written, somebody's calendar."""
        self.rules = house_rules.publish(
            by=make.alice(),
            words="Go where you feel safe.",
            after=0,
            asks_anew=True,
            needed_from=make.today() + make.days(30),
        )
        self.calendar = calendar_links.token_of(calendar_links.make(person=make.bob()))
        PublicPage.objects.update_or_create(
            pk=1, defaults={"is_on": True, "totals": True, "weeks": True, "areas": True}
        )
        self.notice = Notice.objects.create(
            to="people", kind="running", audience="role", group=self.group, subject="It is running",
            body="Go and look.", written_by=make.lena(),
        )  # fmt: skip

    def prints(self) -> None:
        document = Document.objects.create(
            seq=900,
            number=number_of(900),
            kind="round-sheet",
            subject=str(self.run.pk),
            template_version="1",
            made_by=make.lena(),
        )
        self.paper = RoundSheet.objects.create(
            document=document, run=self.run, nth=1, codes=[self.tree.code], units="metric"
        )
        self.labels = LabelSheet.objects.create(
            name="Weatherproof", columns=2, rows=4, top_mm=10, left_mm=10, width_mm=90, height_mm=60, gap_across_mm=2,
            gap_down_mm=2,
        )  # fmt: skip
        self.job = PrintJob.objects.create(by=make.alice(), kind="tags")
        self.archive = Archive.objects.create(by=make.alice(), reason="A copy for the safe.")

    def values(self, what: str) -> dict[str, Any]:
        """The gaps of one door's address, by the word its line in the table says it is about."""
        rows: dict[str, dict[str, Any]] = {
            "tree": {"code": self.tree.code},
            "tree by number": {"number": self.tree.pk},
            "look": {"code": self.tree.code, "look_id": self.look.pk},
            "check": {"code": self.tree.code, "check_id": self.check.pk},
            "tap": {"tap_id": self.tap.pk},
            "tap to settle": {"tap_id": self.to_settle.pk},
            "entry": {"pk": self.entry.pk},
            "late entry": {"pk": self.entry.pk},
            "odd entry": {"pk": self.odd.pk},
            "photo": {"pk": self.photo.pk},
            "person": {"person_id": self.newcomer.pk},
            "role": {"person_id": self.newcomer.pk, "membership_id": self.role.pk},
            "credential": {"person_id": self.newcomer.pk, "credential_id": self.credential.pk},
            "device": {"device_id": "00000000-0000-4000-8000-000000000001"},
            "group": {"group_id": self.group.pk},
            "its cards": {"group_id": self.group.pk},
            "cards": {"sheet_id": self.sheet.pk},
            "card": {"code": "ABC-DEF-GHJ"},
            "season": {"year": make.season().year},
            "file": {"run_id": self.file.pk},
            "owner": {"owner_id": self.owner.pk},
            "slip": {"number": self.slip.number},
            "owner’s link": {"token": self.token},
            "link": {"token": "no-such-link"},
            "container": {"container_id": self.container.pk},
            "depot": {"depot_id": self.depot.pk},
            "round": {"pk": self.round.pk},
            "run": {"pk": self.run.pk},
            "delivery": {"pk": self.jars.bobs.pk},
            "tank": {"pk": self.jars.a.pk},
            "day": {"pk": self.day.pk},
            "shift": {"pk": self.day.pk, "shift": self.shift.pk},
            "batch": {"pk": self.batch.pk},
            "pan line": {"pk": self.batch.pk, "act_id": self.act.pk},
            "lot": {"pk": self.lot.pk},
            "lot act": {"pk": self.lot.pk, "what": "measure"},
            "jars": {"pk": self.jars.issue.pk},
            "recall": {"pk": self.recall.pk},
            "share rule": {"pk": self.rule.pk},
            "share run": {"pk": self.share_run.pk},
            "question": {"pk": self.question.pk},
            "share": {"pk": self.share.pk},
            "version": {"number": self.rules.number},
            "message": {"notice_id": self.notice.pk},
            "calendar": {"token": self.calendar},
            "way out": {"token": "no-such-way"},
            "passkey": {"passkey_id": "00000000-0000-4000-8000-000000000002"},
            "public file": {"part": "areas", "kind": "csv"},
            "label sheet": {"pk": self.labels.pk},
            "round sheet": {"number": self.paper.document.number},
            "print job": {"pk": self.job.pk},
            "kind of paper": {"kind": "permission"},
            "api path": {"rest": "owners"},
            "archive": {"pk": self.archive.pk},
            "season list": {"what": "by-tree"},
            "": {},
        }
        return rows[what]

    def may(self, person: Person | None, act: str, *, anywhere: bool) -> bool:
        """What the table of who may do what says, for a row of North Bank or for anything at all."""
        if person is None:
            return False
        access.forget_roles(person)
        return not access.why_not(person, act, group_id=None if anywhere else self.group.pk, anywhere=anywhere)
