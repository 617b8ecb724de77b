"""Handbook pages about sap and syrup: sugar, instruments, the balance, grade, keeping."""

from sugarbush.core.errors import gettext_noop as _
from sugarbush.core.register.entry import Entry, Input

_BRIX_85 = Input(name="brix", said=_("sugar"), unit="Brix", low=0, high=85)
_LIQUID = Input(name="temperature_c", said=_("temperature"), unit="°C", low=0, high=100)

ENTRIES = (
    Entry(
        title=_("Density of water"),
        words=_("A fraction of polynomials in the temperature."),
        where=("sugar.water_density_kg_m3",),
        inputs=(_LIQUID,),
        gives=_("kg/m³"),
        source=_("water term of ICUMSA SPS-4, coefficients from public programs; within 0.006 of IAPWS-95 up to 80 °C"),
        tag="R2",
        changes=_("The standard's own text."),
    ),
    Entry(
        title=_("Density of sugar solution"),
        words=_("Water's density plus a polynomial in sugar share and temperature."),
        where=("sugar.density_kg_m3",),
        inputs=(_BRIX_85, _LIQUID),
        gives=_("kg/m³"),
        source=_("ICUMSA SPS-4 form, coefficients from public programs; handbook tables agree within 0.3"),
        tag="R2",
        changes=_("The standard's own text; sugars other than sucrose."),
    ),
    Entry(
        title=_("Sugar from density"),
        words=_("The sugar at which a solution has this density, found by halving."),
        where=("sugar.brix_from_density",),
        inputs=(Input(name="density", said=_("density"), unit="kg/m³"), _LIQUID),
        gives=_("Brix"),
        source=_("as density of sugar solution"),
        tag="R2",
        changes=_("As density of sugar solution."),
    ),
    Entry(
        title=_("Mass and sugar of a volume"),
        words=_("Mass = volume × density; sugar = mass × Brix ÷ 100."),
        where=("sugar.mass_kg", "sugar.sugar_kg"),
        inputs=(Input(name="volume_ml", said=_("volume"), unit="mL", low=0), _BRIX_85, _LIQUID),
        gives=_("kg"),
        source=_("definition of Brix, with the density above"),
        tag="R2",
        changes=_("A better reading of volume or sugar."),
    ),
    Entry(
        title=_("Sap poured together"),
        words=_("Mass and sugar add; Brix = 100 × sugar ÷ mass. What is drawn off is taken from the mixture."),
        where=("sugar.pool", "sugar.fold_tank"),
        inputs=(Input(name="parts", said=_("volume and sugar of each part")),),
        gives=_("volume, mass, sugar, Brix"),
        source=_("sugar balance, with the density above"),
        tag="R2",
        changes=_("A part nobody measured: it counts only with an assumed Brix."),
    ),
    Entry(
        title=_("Refractometer without compensation, sap"),
        words=_(
            "True = reading + correction, a polynomial in reading and degrees away from 20 °C; below it is negative."
        ),
        where=("instruments.sap_refractometer_correction", "instruments.sap_brix_from_refractometer"),
        inputs=(
            Input(name="reading_brix", said=_("reading"), unit="Brix", low=0, high=12),
            Input(name="temperature_c", said=_("temperature of the drop"), unit="°C", low=0, high=30),
        ),
        gives=_("Brix to add"),
        source=_("fitted here to a model of the refractive index; within 0.014 of a printed table, 10 to 19 °C"),
        tag="C",
        changes=_("ICUMSA SPS-3 itself, which was not found to read. A warmed sample is better than any formula."),
    ),
    Entry(
        title=_("Refractometer without compensation, syrup"),
        words=_("True = reading + correction, a polynomial in reading and degrees away from 20 °C."),
        where=("instruments.syrup_refractometer_correction", "instruments.syrup_brix_from_refractometer"),
        inputs=(
            Input(name="reading_brix", said=_("reading"), unit="Brix", low=10, high=75),
            Input(name="temperature_c", said=_("temperature of the drop"), unit="°C", low=10, high=30),
        ),
        gives=_("Brix to add"),
        source=_("fitted here to OIV method MA-AS2-02 table I, rows 10 to 16 °C; above 20 °C an extrapolation"),
        tag="C",
        changes=_("ICUMSA SPS-3 itself, which was not found to read."),
    ),
    Entry(
        title=_("Hydrometer, hot or cold"),
        words=_("It floats where the density on its scale equals the liquid's density × (1 + 0.000025 × degrees)."),
        where=("instruments.hydrometer_reads_brix", "instruments.brix_from_hydrometer"),
        inputs=(
            Input(name="true_brix", said=_("true sugar"), unit="Brix", low=0, high=80),
            Input(name="temperature_c", said=_("temperature"), unit="°C", low=0, high=100),
            Input(name="made_for_c", said=_("temperature it is marked for"), unit="°C", low=0, high=30),
        ),
        gives=_("Brix on the scale"),
        source=_("glass: ISO 1768:1975; density as above; 0.16 Brix above a printed chart on average"),
        tag="R2",
        changes=_("The instrument's own glass and its own certificate."),
    ),
    Entry(
        title=_("Degrees Baumé"),
        words=_("Bé = 145 − 145 ÷ specific gravity."),
        where=("instruments.baume_from_brix", "instruments.brix_from_baume"),
        inputs=(_BRIX_85, Input(name="reference_c", said=_("reference temperature"), unit="°C", low=0, high=30)),
        gives=_("°Bé"),
        source=_("definition with modulus 145; Vermont's limits 36 and 37 °Bé as quoted"),
        tag="R2",
        changes=_("Another modulus on the instrument."),
    ),
    Entry(
        title=_("Sap for one volume of syrup"),
        words=_(
            "Ratio = syrup's density × Brix ÷ (sap's density × Brix); nothing lost. Beside it: 86, 87.1, 88.2 ÷ Brix."
        ),
        where=("syrup.sap_per_syrup", "syrup.syrup_ml", "syrup.syrup_from_sugar_ml", "syrup.concentrate_left"),
        inputs=(
            Input(name="sap_brix", said=_("sugar of the sap"), unit="Brix", low=0.01),
            Input(name="syrup_brix", said=_("sugar of the syrup"), unit="Brix", low=50, high=85),
        ),
        gives=_("volumes of sap for one of syrup"),
        source=_("sugar in equals sugar out, with the density above; short rules as quoted by a farming magazine"),
        tag="R2",
        changes=_("Losses in filter and pan; sap measured cold (0.2 %)."),
    ),
    Entry(
        title=_("Colour class"),
        words=_("Golden from 75.0 % of light, amber from 50.0 %, dark from 25.0 %, very dark under that."),
        where=("syrup.colour_class",),
        inputs=(Input(name="light_pct", said=_("light let through"), unit="%", low=0, high=100),),
        gives=_("class"),
        source=_("1 NYCRR 270.1(b) and Wisconsin DATCP table 1, which adopt the US standards of 2015"),
        tag="R",
        changes=_("Local law."),
    ),
    Entry(
        title=_("Density limits of syrup"),
        words=_("From 66.0 to 68.9 Brix, or the season's own limits."),
        where=("syrup.density_in_range",),
        inputs=(Input(name="syrup_brix", said=_("sugar of the syrup"), unit="Brix", low=0, high=100),),
        gives=_("yes or no"),
        source=_("US standards 2015; Vermont asks for 66.9, UVM Extension"),
        tag="R",
        changes=_("Local law."),
    ),
    Entry(
        title=_("Boil-by time"),
        words=_(
            "The earliest of: 7 days; 168 hours where an hour counts ((T + 5) ÷ 8.33)², never under 1; 24 hours over "
            "10 °C by a log of the sap."
        ),
        where=("keeping.boil_by", "keeping.hours_left", "keeping.sap_age", "keeping.pooled_age"),
        inputs=(Input(name="temperature_c", said=_("temperature from now on"), unit="°C", low=-40, high=60),),
        gives=_("moment"),
        source=_("the programme's own policy, no food-safety standard; 38 °F and 7 days as several pages repeat"),
        tag="M",
        changes=_("A stricter policy. Cloudy, ropy or sour sap is tipped out whatever the clock says."),
    ),
    Entry(
        title=_("How fast sap ages"),
        words=_("Weight of an hour = ((T + 5) ÷ 8.33)², never under 1."),
        where=("keeping.growth_weight",),
        inputs=(Input(name="temperature_c", said=_("temperature"), unit="°C", low=-40, high=60),),
        gives=_("hours at 3.33 °C"),
        source=_("square-root growth law of cold-growing bacteria, from memory; −5 °C chosen, not measured on sap"),
        tag="M",
        changes=_("A measured growth rate in sap."),
    ),
    Entry(
        title=_("Temperature history of a lot"),
        words=_("Between two readings the warmer counts; readings over six hours apart are no log."),
        where=("keeping.history_spells",),
        inputs=(Input(name="usual_c", said=_("usual temperature"), unit="°C", low=-40, high=60),),
        gives=_("stretches of time, each with its temperature"),
        source=_("the programme's own policy, on the careful side"),
        tag="common practice",
        changes=_("A logger in the sap."),
    ),
    Entry(
        title=_("Whose figure is used"),
        words=_(
            "The programme's own mean from three readings on; else the species' published average; else the usual."
        ),
        where=("figures.figure",),
        inputs=(
            Input(name="own", said=_("own mean"), low=0, high=1_000),
            Input(name="own_readings", said=_("own readings"), low=0),
        ),
        gives=_("figure and its origin"),
        source=_("the project's own choice; averages partly second-hand or from memory, each says so"),
        tag="M",
        changes=_("Measuring: three readings are enough."),
    ),
)
