"""Handbook pages about the tree: size, taps, the hole, the wood lost and grown, health."""

from sugarbush.core.errors import gettext_noop as _
from sugarbush.core.register.entry import Entry, Input

ENTRIES = (
    Entry(
        title=_("Girth to diameter"),
        words=_("Diameter = girth ÷ π, rounded down to the micrometre, so that a trunk never gains by rounding."),
        where=("trunk.diameter_from_girth_um", "trunk.girth_from_diameter_um", "trunk.size_as_diameter_um"),
        inputs=(Input(name="girth_um", said=_("girth"), unit="µm", low=1, high=31_415_926),),
        gives=_("diameter in µm"),
        source=_("geometry of a round trunk"),
        tag="C",
        changes=_("A trunk that is not round: measure across the thin side."),
    ),
    Entry(
        title=_("Several stems"),
        words=_("The largest single stem judges the tree. Stems are never added up."),
        where=("trunk.judged_diameter_um",),
        inputs=(Input(name="stems_um", said=_("diameters of the stems"), unit="µm"),),
        gives=_("diameter in µm"),
        source=_("a careful reading for this programme"),
        tag="common practice",
        changes=_("A published rule for trees of several stems."),
    ),
    Entry(
        title=_("How many taps a trunk may carry"),
        words=_("None under 12 in (30.48 cm), one from there, two from 18 in (45.72 cm), never more."),
        where=("trunk.allowed_taps", "trunk.stricter_guideline"),
        inputs=(
            Input(name="diameter_um", said=_("diameter"), unit="µm", low=1, high=9_999_999),
            Input(name="guideline", said=_("guideline, the conservative one or a stricter")),
        ),
        gives=_("taps: 0, 1 or 2"),
        source=_(
            "12 in: Ohio State University Extension, 23 January 2013. 12 and 18 in: abstract of “A History of Taps and "
            "Tree Size”, mapleresearch.org"
        ),
        tag="R",
        changes=_("A stricter rule of the programme, a permission, a health check. Nothing raises it."),
    ),
    Entry(
        title=_("Wood taken out by the bit"),
        words=_("Volume = π ÷ 4 × bit² × depth."),
        where=("taphole.hole_volume_cm3",),
        inputs=(
            Input(name="bit_um", said=_("drill bit"), unit="µm", low=1, high=30_000),
            Input(name="depth_mm", said=_("depth"), unit="mm", low=0, high=150),
        ),
        gives=_("volume in cm³"),
        source=_("cylinder; 5/16 in × 1.5 in, UVM Extension slides"),
        tag="C",
        changes=_("Another bit or depth."),
    ),
    Entry(
        title=_("Where not to drill"),
        words=_(
            "Bark unrolled: each old hole keeps free 10.2 cm to each side and 30.5 cm up and down, each hole of this "
            "season 15.3 cm to each side at any height."
        ),
        where=("taphole.clashes", "taphole.free_bark", "taphole.side_distance_mm"),
        inputs=(
            Input(name="new_hole", said=_("place of the new hole")),
            Input(name="old_holes", said=_("places of the old holes")),
        ),
        gives=_("old holes that are too near"),
        source=_("old holes: UVM sap yield tips 2020 as quoted; open holes: UVM Extension slides"),
        tag="R2",
        changes=_("The programme's own distances. Brown shavings always mean another spot."),
    ),
    Entry(
        title=_("Where to drill next"),
        words=_(
            "From the latest hole the same way round the trunk, a height up, then a height down, where bark is free."
        ),
        where=("taphole.suggest_holes",),
        inputs=(
            Input(name="diameter_um", said=_("diameter now"), unit="µm"),
            Input(name="count", said=_("new holes"), low=1, high=2),
            Input(name="step_mm", said=_("step along the bark"), unit="mm", low=10, high=1_000),
        ),
        gives=_("places: compass side and height"),
        source=_("rotation: OSU Mansfield; standing height and sides as quoted"),
        tag="R2",
        changes=_("Bark, seams and dead sides that only the eye sees."),
    ),
    Entry(
        title=_("Wood the drill can reach"),
        words=_("Ring as deep as the hole: π ÷ 4 × (diameter² − (diameter − 2 × depth)²) × height of the band."),
        where=("wounding.zone_volume_cm3",),
        inputs=(
            Input(name="diameter_mm", said=_("diameter"), unit="mm", low=50, high=10_000),
            Input(name="depth_mm", said=_("depth"), unit="mm", low=1, high=150),
            Input(name="band_mm", said=_("height of the band"), unit="mm", low=10, high=3_000),
        ),
        gives=_("volume in cm³"),
        source=_("tapping zone as described in “A Model of the Tapping Zone”, UVM, abstract; geometry"),
        tag="C",
        changes=_("Drilling higher, lower or deeper."),
    ),
    Entry(
        title=_("Wood lost to one hole"),
        words=_("Column that never carries sap again = 50 to 75 times the hole."),
        where=("wounding.column_volume_cm3",),
        inputs=(
            Input(name="hole_cm3", said=_("hole"), unit="cm³", low=0, high=200),
            Input(name="times", said=_("multiple"), low=1, high=300),
        ),
        gives=_("volume in cm³"),
        source=_("range used in models, from memory; no number for sugar, red or silver maple was found to read"),
        tag="M",
        changes=_("A published multiple for these species."),
    ),
    Entry(
        title=_("Ring from growth of the cut face"),
        words=_("Ring = (diameter − √(diameter² − 4 × face growth ÷ π)) ÷ 2."),
        where=("wounding.ring_from_area_mm", "wounding.area_growth_cm2"),
        inputs=(
            Input(name="diameter_mm", said=_("diameter"), unit="mm", low=50, high=10_000),
            Input(name="area_growth_cm2", said=_("face growth in a year"), unit="cm²", low=0),
        ),
        gives=_("ring in mm"),
        source=_("geometry"),
        tag="C",
        changes=_("A trunk that is not round."),
    ),
    Entry(
        title=_("Ring growth from two girths"),
        words=_("Ring a year = girth growth ÷ 2π ÷ years; give or take √2 × the tape's error ÷ 2π ÷ years."),
        where=("wounding.ring_growth",),
        inputs=(
            Input(name="first_girth_mm", said=_("first girth"), unit="mm", low=150, high=31_400),
            Input(name="second_girth_mm", said=_("second girth"), unit="mm", low=150, high=31_400),
            Input(name="years", said=_("years between"), unit="years", low=0.5, high=100),
            Input(name="tape_mm", said=_("what a reading is good to"), unit="mm", low=0, high=50),
        ),
        gives=_("ring in mm a year, and its error"),
        source=_("geometry; errors added in quadrature"),
        tag="C",
        changes=_("Measuring at another height: mark the height on the bark."),
    ),
    Entry(
        title=_("Share of dead wood in the long run"),
        words=_(
            "Taps × column × the years a column stays within the drill's reach, each year less by ring ÷ depth, "
            "÷ the wood the drill can reach."
        ),
        where=("wounding.dead_share",),
        inputs=(
            Input(name="diameter_mm", said=_("diameter"), unit="mm", low=50, high=10_000),
            Input(name="ring_mm", said=_("ring a year"), unit="mm", low=0),
            Input(name="hole_cm3", said=_("hole"), unit="cm³", low=0, high=200),
            Input(name="taps", said=_("taps a year"), low=0, high=4),
            Input(name="times", said=_("multiple"), low=1, high=300),
        ),
        gives=_("share, 0 to 1"),
        source=_("worked out here; the multiple of the hole is from memory"),
        tag="M",
        changes=_("A published multiple, the tree's own growth, drilling in a taller band."),
    ),
    Entry(
        title=_("Sustainable, or rest"),
        words=_("At least 1.15 mm of ring a year (7.2 mm of girth), beyond the error of the tape, over two years."),
        where=("wounding.growth_advice",),
        inputs=(
            Input(name="growth", said=_("ring growth")),
            Input(name="limit_mm", said=_("least ring"), unit="mm a year", low=1.15, high=20),
        ),
        gives=_("sustainable, look, rest, or measure again"),
        source=_("least face growth of 18 Vermont sites, Forest Science 62(1):107–114, 2016, abstract; geometry"),
        tag="R",
        changes=_("A stricter limit of the programme; what an arborist says."),
    ),
    Entry(
        title=_("Closing of old holes"),
        words=_("Closed within three growing seasons is healthy; open after that is slow, and the tree rests."),
        where=("wounding.hole_closure",),
        inputs=(
            Input(name="seasons", said=_("growing seasons since"), low=0, high=100),
            Input(name="closed", said=_("closed")),
        ),
        gives=_("closed, closing or slow"),
        source=_("UVM Extension slides; Gibbs and Smith, USDA Forest Service Research Note NE-155, 1973, abstract"),
        tag="R",
        changes=_("A wider bit closes more slowly."),
    ),
    Entry(
        title=_("Verdict of a health check"),
        words=_("The worst sign seen decides: pass, watch (one tap at most) or fail (no tap)."),
        where=("health.health_verdict",),
        inputs=(Input(name="crown_dieback_pct", said=_("dead part of the crown"), unit="%", low=0, high=100),),
        gives=_("verdict and reasons"),
        source=_("common practice; closing of old holes: UVM Extension slides"),
        tag="common practice",
        changes=_("What an arborist says."),
    ),
)
