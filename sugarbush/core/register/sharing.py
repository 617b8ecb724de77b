"""Handbook pages about sharing out, walking, and units."""

from sugarbush.core.errors import gettext_noop as _
from sugarbush.core.register.entry import Entry, Input

ENTRIES = (
    Entry(
        title=_("Shares that add up"),
        words=_("Everyone gets the whole units due; those left over go by largest remainder, then weight, then name."),
        where=("shares.largest_remainder", "shares.shares_ml", "shares.shares_jars"),
        inputs=(
            Input(name="pool_units", said=_("pool"), low=0),
            Input(name="floor_units", said=_("first of all for each"), low=0),
        ),
        gives=_("units for each, their sum the pool"),
        source=_("Hamilton's method, as seats in parliaments are shared; no source opened"),
        tag="common practice",
        changes=_("Another rule, published before the season."),
    ),
    Entry(
        title=_("Weight of sap by its sugar"),
        words=_("Litres × Brix, added up."),
        where=("shares.sap_weight", "sharerules.sugar_weight"),
        inputs=(
            Input(name="volume_ml", said=_("sap"), unit="mL", low=0),
            Input(name="sugar_brix", said=_("sugar"), unit="Brix", low=0, high=100),
        ),
        gives=_("litres times Brix"),
        source=_("the programme's own rule"),
        tag="common practice",
        changes=_("The reading used: the collection's own, the delivery's, the tree's mean, the programme's."),
    ),
    Entry(
        title=_("The share rule"),
        words=_("Set-asides first; the rest in parts, each by one measure: equal, sap, sugar, hours, or taps."),
        where=("sharerules.share_out",),
        inputs=(Input(name="pool_units", said=_("pool"), low=0),),
        gives=_("units for each, and how each part came about"),
        source=_("the programme's own rule, frozen before the season"),
        tag="common practice",
        changes=_("A new version, with its reason shown."),
    ),
    Entry(
        title=_("From millilitres to jars"),
        words=_("The largest jars first, each to whoever still has most to come; of every size all there are."),
        where=("jarshares.share_jars", "jarshares.jars_ml", "jarshares.most_first_jars"),
        inputs=(Input(name="jars", said=_("jars by size")), Input(name="dues", said=_("what is due to each"))),
        gives=_("jars by size for each, and what they hold over or under what is due"),
        source=_(
            "largest remainder, size after size; one size held against sixty seats for fifteen states as published, "
            "several against every way there is"
        ),
        tag="C",
        changes=_("Other jar sizes: smaller jars bring everyone nearer to what is due."),
    ),
    Entry(
        title=_("Areas shown to the public"),
        words=_(
            "A fixed grid over the Earth, each cell 250 m or more both ways: rows of 1/440 of a degree of latitude, "
            "columns counted anew in each whole degree. A cell with fewer than three trees is not shown; nor is the "
            "smallest one shown, while the trees left out are fewer than three or stand in one cell. Counts in bands."
        ),
        where=("areas.area_of", "areas.columns_in", "areas.shown_areas", "areas.band_of"),
        inputs=(Input(name="place", said=_("where a tree stands")),),
        gives=_("a cell; the cells that may be shown; a band of trees"),
        source=_("geometry of a sphere of 6,371.0088 km; suppression as in official statistics"),
        tag="C",
        changes=_("Nothing: a grid that moved would let two answers be laid over each other."),
    ),
    Entry(
        title=_("Distance between trees"),
        words=_("Straight over a round Earth of 6,371.0088 km."),
        where=("rounds.distance_m",),
        inputs=(Input(name="one", said=_("from")), Input(name="other", said=_("to"))),
        gives=_("m"),
        source=_("haversine; within 0.6 % of the true figure of the Earth"),
        tag="C",
        changes=_("Streets: people walk further."),
    ),
    Entry(
        title=_("Walking order"),
        words=_("Nearest tree first, then crossings taken out and short stretches moved until nothing helps."),
        where=("rounds.walking_order", "rounds.walk", "rounds.trips"),
        inputs=(Input(name="trees", said=_("trees, at most 200")),),
        gives=_("order, metres, weight in hand"),
        source=_("nearest neighbour, 2-opt, or-opt, textbook methods; held against scipy and pyvrp"),
        tag="M",
        changes=_("Fences, hills and busy roads that a straight line does not see."),
    ),
    Entry(
        title=_("Trees into rounds"),
        words=_("The map is cut in two across its longer side, again and again, into rounds as even as can be."),
        where=("roundplan.split_into_rounds",),
        inputs=(Input(name="most_stops", said=_("trees in a round"), low=1, high=200),),
        gives=_("rounds, each in walking order"),
        source=_("recursive bisection; 2 to 13 % longer than pyvrp's rounds on strewn trees"),
        tag="M",
        changes=_("A river, a railway, who lives where."),
    ),
    Entry(
        title=_("Drop-offs on a round"),
        words=_("Before a tree that would be too heavy, to the drop-off that makes the way to it shortest."),
        where=("roundplan.with_drop_offs",),
        inputs=(Input(name="carry_limit_g", said=_("the person's own limit"), unit="g", low=1, high=1_000_000),),
        gives=_("stops, metres, weight in hand"),
        source=_("common practice"),
        tag="common practice",
        changes=_("Two people, a cart, a nearer drop-off."),
    ),
    Entry(
        title=_("Units"),
        words=_("Kept in mL, mm, µm, g, °C; 1 in = 25.4 mm, 1 US gal = 3785.411784 mL, 1 lb = 453.59237 g, exactly."),
        where=(
            "units.to_ml", "units.from_ml", "units.to_mm", "units.from_mm", "units.to_um", "units.from_um",
            "units.to_g", "units.from_g", "units.to_c", "units.from_c", "units.plain", "units.shown_volume",
            "units.shown_length", "units.shown_diameter", "units.shown_bit", "units.shown_temperature",
            "units.shown_temperature_step", "units.shown_jar", "units.shown_mass",
        ),
        inputs=(Input(name="value", said=_("number"), low=0), Input(name="unit", said=_("unit"))),
        gives=_("whole stored units; rounded once, half up"),
        source=_("exact by definition; the same in scipy.constants"),
        tag="C",
        changes=_("Nothing: they are definitions."),
    ),
    Entry(
        title=_("Reading what was typed"),
        words=_("Number and unit as people write them; what can be read in two ways is asked, never guessed."),
        where=(
            "typed.parse_quantity", "typed.parse_volume_ml", "typed.parse_length_mm", "typed.parse_length_um",
            "typed.parse_temperature_c", "typed.parse_mass_g",
        ),
        inputs=(Input(name="text", said=_("what was typed")),),
        gives=_("whole stored units"),
        source=_("common practice"),
        tag="common practice",
        changes=_("Typing the unit beside the number."),
    ),
)  # fmt: skip
