"""A season from trunk to jar, worked out by hand. Every millilitre is written out here.

gathered, mL       out    rain  tipped         by    °Brix
  first         30,000                         Bob   2.00
  second        20,000           1,000 ice     Bob   2.50
  third         25,000     500                 Mira  1.80

Bob holds 49,000, Mira 25,500. She hands him 5,500: Bob 54,500, Mira 20,000.
Bob brings 53,000 into tank A and 1,000 that is turned away, all he carries: 54,500 − 54,000 = 500 measured under.
Mira brings 20,400 into tank A: 20,400 − 20,000 = 400 measured over.
Tank A holds 73,400. 13,400 is pumped into tank B; 400 of it is tipped out: B 13,000. The stick in B says 13,100:
100 measured over. A holds 60,000.
The pan takes all of it, 73,100. 1,100 boils over. 900 of syrup at 66.0 °Brix is drawn off with 50 left in the
filter, then 700 at 67.0. The rest, 73,100 − 1,100 − 900 − 50 − 700 = 70,350, went off as steam.
900 + 700 = 1,600 are poured together and packed: 5 jars of 250 (one broken) and 2 of 100 are 1,450, a heel of 100
waits for the next lot, 30 stay in the filter: 1,580, so 20 are measured under. The vessel holds 4 x 250 + 2 x 100
= 1,200. The heel fills 1 jar of 100 to the drop.
3 jars of 250 go to Bob, 1 comes back; 1 of 100 goes to the food pantry; 1 of 250 is destroyed.
Here stay 1 of 250 and 1 of 100, and 1 of 100 of the heel: 450.

came    out of trees 75,000 + rain 500 + measured over 400 + 100                            = 76,000
went    tipped out 1,000 + 400, turned away 1,000, measured under 500 + 20,
        steam 70,350, lost 1,100 + 250, filter 50 + 30, in lots 450, handed out 600,
        destroyed 250:  1,400 + 1,000 + 520 + 70,350 + 1,350 + 80 + 450 + 600 + 250         = 76,000
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.utils import timezone

from sugarbush.boils.actions import Line, accept_delivery
from sugarbush.boils.batches import close_batch, open_batch
from sugarbush.boils.draw_offs import draw_off, lose
from sugarbush.boils.handover import hand_over
from sugarbush.boils.models import BoilDay, BoilState
from sugarbush.boils.tank_acts import dip_tank, move_between_tanks, tip_out_tank
from sugarbush.lots.jars import break_jars, issue_jars, take_back
from sugarbush.lots.models import Lot
from sugarbush.lots.packing import Jars, Pack, pack
from sugarbush.lots.second_look import release
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.volunteers.models import Person
from tests import make

LINES = {
    "Came out of trees": 75_000,
    "Rain kept with it": 500,
    "Measured over": 500,
    "Tipped out": 1_400,
    "Turned away at the depot": 1_000,
    "Measured under": 520,
    "Driven off as steam": 70_350,
    "Lost": 1_350,
    "Held by the filter": 80,
    "Syrup in lots": 450,
    "Handed out in jars": 600,
    "Destroyed": 250,
}


def ago(hours: float) -> dt.datetime:
    return timezone.now() - dt.timedelta(hours=hours)


class JarSeason:
    """The season after its last jar; the vessels, lots and acts that tests ask for stand as attributes."""

    def __init__(self) -> None:
        make.programme(time_zone="America/Detroit")
        self.season = make.season()
        self.bob, self.lena, self.alice = make.bob(), make.lena(), make.alice()
        self.mira = make.person("Mira", "volunteer", "North Bank")
        self.dora, self.kai, self.rhea = make.dora(), make.kai(), make.rhea()
        self.gather()
        self.deliver()
        self.boil()
        self.bottle()

    def gather(self) -> None:
        self.first, self.second, self.third = (make.tapped_tree() for _ in range(3))
        bob, mira = self.bob, self.mira
        self.entries = [
            make.collection(
                self.first, by=bob, litres="30", brix="2.00", happened_at=ago(50), note="a big run", confirmed=True
            ),
            make.collection(
                self.second,
                by=bob,
                litres="20",
                brix="2.50",
                discarded_ml=1_000,
                discard_reason="ice",
                happened_at=ago(49),
                note="a big run",
                confirmed=True,
            ),
            make.collection(
                self.third,
                by=mira,
                litres="25",
                brix="1.80",
                rain_ml=500,
                happened_at=ago(48),
                note="a big run",
                confirmed=True,
            ),
        ]
        self.over = hand_over(giver=mira, taker=bob, volume_ml=5_500, by=mira, happened_at=ago(47))

    def deliver(self) -> None:
        self.a, self.b = self.tank("A"), self.tank("B")
        self.bobs = accept_delivery(
            depot=make.depot(),
            person=self.bob,
            keeper=self.dora,
            lines=[
                Line(volume_ml=53_000, tank=self.a, container=make.container("C-1", 60_000)),
                Line(volume_ml=1_000, reject_reason="sour", container=make.container("C-2")),
            ],
            all_of_it=True,
            happened_at=ago(46),
        )
        self.miras = accept_delivery(
            depot=make.depot(),
            person=self.mira,
            keeper=self.dora,
            lines=[Line(volume_ml=20_400, tank=self.a, container=make.container("C-3", 30_000))],
            happened_at=ago(45),
        )
        move_between_tanks(source=self.a, target=self.b, volume_ml=13_400, by=self.dora, happened_at=ago(44))
        tip_out_tank(tank=self.b, volume_ml=400, by=self.dora, reason="A leaf was in it.", happened_at=ago(43))
        dip_tank(tank=self.b, measured_ml=13_100, by=self.dora, happened_at=ago(42))

    def tank(self, code: str) -> Vessel:
        return Vessel.objects.create(
            kind=VesselKind.TANK,
            season=self.season,
            code=code,
            depot=make.depot(),
            capacity_ml=200_000,
            usual_temperature_c=Decimal("2.0"),
        )

    def boil(self) -> None:
        self.day = BoilDay.objects.create(
            season=self.season, day=make.today(), site="Mill Race yard", lead=self.kai, state=BoilState.LIT
        )
        takes = [(self.a, 60_000), (self.b, 13_100)]
        self.batch = open_batch(day=self.day, by=self.kai, takes=takes, opened_at=ago(20))
        lose(batch=self.batch, by=self.kai, volume_ml=1_100, cause="boil-over", at=ago(18))
        self.drawn = draw_off(
            batch=self.batch, by=self.kai, syrup_ml=900, syrup_brix=Decimal("66.0"), filter_ml=50, at=ago(12)
        )
        close_batch(batch=self.batch, by=self.kai, syrup_ml=700, syrup_brix=Decimal("67.0"), closed_at=ago(10))
        BoilDay.objects.filter(pk=self.day.pk).update(state=BoilState.OUT)
        self.batch.refresh_from_db()

    def bottle(self) -> None:
        lots = list(Vessel.objects.filter(kind=VesselKind.LOT, season=self.season).order_by("made_at"))
        self.lot = self.pack(
            lots,
            Pack(
                jars=[Jars(size_ml=250, filled=5, broken=1), Jars(size_ml=100, filled=2)],
                heel_ml=100,
                filter_ml=30,
                syrup_brix=Decimal("66.4"),
                fill_temperature_c=Decimal("84.0"),
                colour="amber",
            ),
            self.kai,
        )
        heel = Vessel.objects.get(kind=VesselKind.LOT, season=self.season, shut_at=None)
        self.heel = self.pack(
            [heel],
            Pack(
                jars=[Jars(size_ml=100, filled=1)],
                syrup_brix=Decimal("66.4"),
                fill_temperature_c=Decimal("84.0"),
                colour="amber",
            ),
            self.kai,
        )
        issue = issue_jars(lot=self.lot, size_ml=250, count=3, by=self.alice, person=self.bob, happened_at=ago(5))
        take_back(issue=issue, count=1, by=self.alice, happened_at=ago(4))
        self.issue = issue
        self.pantry = issue_jars(
            lot=self.lot, size_ml=100, count=1, by=self.alice, to_text="Food pantry", happened_at=ago(3)
        )
        break_jars(
            lot=self.lot,
            size_ml=250,
            count=1,
            by=self.kai,
            reason="The lid was not tight.",
            destroyed=True,
            happened_at=ago(2),
        )
        self.lot.refresh_from_db()

    def pack(self, vessels: list[Vessel], packing: Pack, by: Person) -> Lot:
        lot = pack(vessels=vessels, by=by, packing=packing, packed_at=ago(8))
        return release(lot=lot, by=self.alice, happened_at=ago(6))
