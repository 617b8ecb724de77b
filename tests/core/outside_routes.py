"""Routes by an outside solver, pyvrp, to hold ours against."""

from collections.abc import Sequence
from itertools import combinations

from pyvrp import Model
from pyvrp.stop import MaxIterations

from sugarbush.core.rounds import Place, distance_m


def pyvrp_m(trees: Sequence[Place], *, depot: Place, most_stops: int, rounds: int, iterations: int) -> float:
    """What pyvrp finds for so many rounds of at most so many stops, from the depot and back, in metres."""
    model = Model()
    places = [depot, *trees]
    # pyvrp reckons in whole numbers: millimetres. The coordinates it asks for are for drawing only.
    spots = [model.add_location(0, number) for number in range(len(places))]
    model.add_depot(spots[0])
    for spot in spots[1:]:
        model.add_client(spot, delivery=[1])
    model.add_vehicle_type(num_available=rounds, capacity=[most_stops])
    for (one, here), (other, there) in combinations(zip(spots, places, strict=True), 2):
        distance_mm = round(1000 * distance_m(here, there))
        model.add_edge(one, other, distance=distance_mm)
        model.add_edge(other, one, distance=distance_mm)
    result = model.solve(stop=MaxIterations(iterations), seed=1, display=False)
    assert result.is_feasible()
    return float(result.cost()) / 1000
