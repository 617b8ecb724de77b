"""Whatever people do, in whatever order, the sap adds up to the millilitre and no vessel falls below zero.

A machine of hypothesis collects, tips out, delivers, corrects, boils and settles through the real actions, and after
every step the books are compared with a second set kept by plain addition.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, invariant, rule, run_state_machine_as_test

from sugarbush.boils.actions import Line, accept_delivery, ahead_vessel, settle_ahead
from sugarbush.boils.batches import close_batch, open_batch
from sugarbush.boils.models import BoilDay, DeliveryState
from sugarbush.gathering.actions import Visit, change_visit, log_visit, settle
from sugarbush.gathering.models import CollectionState
from sugarbush.sap.ledger import balance_ml, balances_ml, below_zero, chain, hands_of
from sugarbush.sap.models import Cause, Vessel
from sugarbush.sap.tanks import tank_state
from tests import make

litres_ml = st.integers(min_value=1, max_value=8_000)
brix = st.none() | st.decimals(min_value=Decimal("0.80"), max_value=Decimal("5.00"), places=2)


class Books(RuleBasedStateMachine):
    entries = Bundle("entries")
    ahead = Bundle("ahead")

    def __init__(self) -> None:
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.season = make.season()
        self.tapped, self.bare = make.tapped_tree(), make.given_tree()
        self.people = [make.bob(), make.lena()]
        self.tanks = [make.tank("A", None), make.tank("B", None)]
        make.person("Tom", "volunteer", "North Bank")
        self.day = BoilDay.objects.create(
            season=self.season, day=make.today(), site="Mill Race yard", state="lit", lead=make.kai()
        )
        self.came_ml = 0  # kept by plain addition: out of trees, what never happened taken off again

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.undo.__exit__(None, None, None)

    @rule(target=entries, who=st.integers(0, 1), ml=litres_ml, tipped=st.floats(0, 1), sugar=brix, bare=st.booleans())
    def collect(self, who, ml, tipped, sugar, bare):
        gone = int(ml * tipped)
        visit = Visit(
            outcome="sap", volume_ml=ml, discarded_ml=gone, discard_reason="cloudy" if gone else "", sugar_brix=sugar
        )
        self.came_ml += ml
        return log_visit(tree=self.bare if bare else self.tapped, by=self.people[who], visit=visit).pk

    @rule(pk=entries, ml=litres_ml)
    def change(self, pk, ml):
        entry = self.entry(pk)
        if entry.state == CollectionState.VOID:
            return
        self.came_ml += ml - entry.volume_ml
        visit = Visit(outcome="sap", volume_ml=ml)
        change_visit(entry=entry, by=make.alice(), visit=visit, reason="looked again")

    @rule(pk=consumes(entries))
    def take_back(self, pk):
        entry = self.entry(pk)
        if entry.state == CollectionState.VOID:
            return
        self.came_ml -= entry.volume_ml
        change_visit(entry=entry, by=make.alice(), visit=None, reason="wrong tree")

    @rule(pk=entries, verdict=st.sampled_from(["counts", "never", "not_ours"]))
    def settle_entry(self, pk, verdict):
        entry = self.entry(pk)
        if entry.state != CollectionState.REVIEW:
            return
        hands = hands_of(entry.person, self.season)
        if verdict == "not_ours" and balance_ml(hands) + sum(balances_ml(self.tanks).values()) < entry.net_ml:
            return
        if verdict == "not_ours" and balance_ml(hands) < entry.net_ml:
            return
        if verdict == "never":
            self.came_ml -= entry.volume_ml
        settle(entry=entry, by=make.alice(), verdict=verdict, note="asked")

    @rule(
        target=ahead,
        who=st.integers(0, 1),
        ml=litres_ml,
        tank=st.integers(0, 1),
        reject=st.booleans(),
        early=st.booleans(),
    )
    def deliver(self, who, ml, tank, reject, early):
        line = (
            Line(volume_ml=ml, reject_reason="sour")
            if reject
            else Line(volume_ml=ml, tank=self.tanks[tank], container=make.container())
        )
        delivery = (
            accept_delivery(
                depot=make.depot(),
                person=self.people[who],
                keeper=make.dora(),
                lines=[line],
                all_of_it=True,
                explanation="" if early else "measured twice",
                ahead=early,
                approved_by=make.alice(),
            )
            if not early or ml > balance_ml(hands_of(self.people[who], self.season))
            else None
        )
        return delivery.pk if delivery and delivery.state == DeliveryState.AHEAD else None

    @rule(pk=consumes(ahead), tank=st.integers(0, 1))
    def settle_delivery(self, pk, tank):
        if pk is None:
            return
        delivery = self.season.deliveries.get(pk=pk)
        vessel = ahead_vessel(delivery)
        assert vessel is not None
        assert balance_ml(vessel) > 0
        settle_ahead(delivery=delivery, by=make.dora(), tank=self.tanks[tank], explanation="that is all")
        assert balance_ml(vessel) == 0

    @rule(tank=st.integers(0, 1), share=st.floats(0.1, 1), yields=st.floats(0, 0.1))
    def boil(self, tank, share, yields):
        held = balance_ml(self.tanks[tank])
        taken = int(held * share)
        if taken <= 0:
            return
        batch = open_batch(day=self.day, by=make.kai(), takes=[(self.tanks[tank], taken)])
        syrup = int(taken * yields)
        close_batch(batch=batch, by=make.kai(), syrup_ml=syrup, loss_reason="" if syrup else "scorched")
        assert balance_ml(batch.pan) == 0

    @invariant()
    def the_chain_closes(self):
        found = chain(self.season)
        assert found.closes
        assert found.sources[Cause.OUT_OF_TREE] == self.came_ml

    @invariant()
    def no_vessel_was_ever_below_zero(self):
        assert below_zero(self.season) == []

    @invariant()
    def the_fold_of_a_tank_is_its_balance(self):
        for tank in self.tanks:
            assert tank_state(tank).volume_ml == balance_ml(tank)

    def entry(self, pk):
        return self.season.collections.get(pk=pk)


@pytest.mark.django_db
def test_the_books_balance_whatever_people_do():
    run_state_machine_as_test(
        Books,
        settings=settings(
            max_examples=10,
            stateful_step_count=20,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            phases=(Phase.explicit, Phase.reuse, Phase.generate),
        ),
    )
    assert not Vessel.objects.exists()
