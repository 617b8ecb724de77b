"""What is typed about the programme and its seasons."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.core.trunk import FIRST_TAP_UM, SECOND_TAP_UM
from sugarbush.parts.forms import DayInput, QuantityField, UnitsForm, UnitsModelForm
from sugarbush.parts.shown import in_words
from sugarbush.seasons import changed, guidelines, zones
from sugarbush.seasons.models import Programme, Season
from sugarbush.volunteers.changing import EditionMixin

LARGEST_RULE_UM = 2_000_000
LONGEST_SEASON_DAYS = 200
CORNERS = ("west", "south", "east", "north")
# Hours and °Brix: from, to. The loose end is the trade's own default; a programme may be stricter, never looser.
KEEPING: dict[str, tuple[float, float]] = {
    "keep_limit_h": (24, 168),
    "keep_soon_h": (0, 120),
    "keep_warm_h": (0, 24),
}
DENSITY: dict[str, tuple[float, float]] = {"syrup_least_brix": (66.0, 68.9), "syrup_most_brix": (66.0, 68.9)}


class DegreeField(forms.FloatField):
    """Degrees with a point or a comma, and a minus of any shape."""

    widget = forms.TextInput

    def __init__(self, *, most: int, **kwargs: Any) -> None:
        super().__init__(min_value=-most, max_value=most, required=False, **kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "text", "autocomplete": "off"}

    def to_python(self, value: Any) -> Any:
        text = value.replace(",", ".").replace("−", "-").replace("°", "") if isinstance(value, str) else value
        return super().to_python(text)


class ProgrammeForm(EditionMixin, UnitsModelForm):
    """The programme: its name, town, clock, units, tags, telephone, local rules and corner of the map."""

    time_zone = forms.ChoiceField(
        label=gettext_lazy("Time zone"),
        choices=lambda: [("", _("Choose the nearest large town")), *zones.choices()],
        help_text=gettext_lazy("Press the first letters of a large town that keeps your time."),
    )
    tag_prefix = forms.CharField(
        label=gettext_lazy("Letters on the tags"),
        max_length=4,
        validators=[RegexValidator(r"^[A-Za-z]{1,4}\Z", gettext_lazy("Use 1 to 4 letters, such as QH."))],
        help_text=gettext_lazy("1 to 4 letters; the trees become QH-0001, QH-0002 and so on."),
    )
    west = DegreeField(most=180, label=gettext_lazy("West edge"), help_text=gettext_lazy("longitude in degrees (°)"))
    south = DegreeField(most=90, label=gettext_lazy("South edge"), help_text=gettext_lazy("latitude in degrees (°)"))
    east = DegreeField(most=180, label=gettext_lazy("East edge"), help_text=gettext_lazy("longitude in degrees (°)"))
    north = DegreeField(most=90, label=gettext_lazy("North edge"), help_text=gettext_lazy("latitude in degrees (°)"))

    class Meta:
        model = Programme
        fields = [
            "name",
            "place",
            "time_zone",
            "default_units",
            "tag_prefix",
            "phone",
            "local_rules",
            "forget_after_years",
            *CORNERS,
        ]
        widgets = {"default_units": forms.RadioSelect, "local_rules": forms.Textarea(attrs={"rows": 4})}
        help_texts = {
            "default_units": gettext_lazy("For you and for new people; everybody may choose their own later."),
            "phone": gettext_lazy("Volunteers call it when something is wrong at a tree."),
            "forget_after_years": gettext_lazy(
                "Empty: only when somebody asks. Their litres stay, under a number; sap in hands is settled first."
            ),
            "local_rules": gettext_lazy("What the town or the law asks of people who tap, in your words."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance._state.adding:  # nobody has left yet
            del self.fields["forget_after_years"]
            self.columns.remove("forget_after_years")

    @property
    def plain_fields(self) -> list[forms.BoundField]:
        return [bound for bound in self.visible_fields() if bound.name not in CORNERS]

    @property
    def corner_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in CORNERS]

    @property
    def corners_wrong(self) -> bool:
        return any(name in self.errors for name in CORNERS)

    def clean_tag_prefix(self) -> str:
        return str(self.cleaned_data["tag_prefix"]).upper()

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        corners = [given.get(name) for name in CORNERS]
        if any(corner is not None for corner in corners) and not any(name in self.errors for name in CORNERS):
            for name, corner in zip(CORNERS, corners, strict=True):
                if corner is None:
                    self.add_error(name, _("Give all four edges, or none."))
            if not self.corners_wrong:
                if given["west"] >= given["east"]:
                    self.add_error("east", _("The east edge has to lie east of the west edge. Were they swapped?"))
                if given["south"] >= given["north"]:
                    self.add_error("north", _("The north edge has to lie north of the south edge. Were they swapped?"))
        return given


def _in_season(form: forms.BaseForm, given: dict[str, Any], year: int | None) -> None:
    start, end = given.get("tapping_from"), given.get("tapping_to")
    if not (isinstance(start, dt.date) and isinstance(end, dt.date)):
        return
    if end < start:
        form.add_error("tapping_to", _("Taps come out after they go in. Give a later day."))
    elif (end - start).days > LONGEST_SEASON_DAYS:
        form.add_error(
            "tapping_to",
            _("That is %(days)s days; a season is at most %(most)s days. Is the year right?")
            % {"days": (end - start).days, "most": LONGEST_SEASON_DAYS},
        )
    elif year and year not in {start.year, end.year}:
        form.add_error("tapping_to", _("None of these days lies in %(year)s. Is the year right?") % {"year": year})


class SeasonNewForm(UnitsModelForm):
    """A season to prepare; finer rules are set on its own page."""

    guideline = forms.ChoiceField(label=gettext_lazy("Tap guideline"), widget=forms.RadioSelect)

    class Meta:
        model = Season
        fields = ["year", "tapping_from", "tapping_to", "guideline", "check_good_days"]
        widgets = {"tapping_from": DayInput, "tapping_to": DayInput}
        help_texts = {
            "tapping_from": gettext_lazy("The first day a hole may be drilled."),
            "tapping_to": gettext_lazy("The last day a spout may be in a tree."),
            "check_good_days": gettext_lazy("days; after that a tree needs a new check before it is tapped"),
        }
        error_messages = {"year": {"unique": gettext_lazy("That season is there already. Choose another year.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sizes = {size: _both(size) for size in (FIRST_TAP_UM, SECOND_TAP_UM)}
        self.fields["guideline"].choices = [  # type: ignore[attr-defined]  # a ChoiceField
            (
                guidelines.STANDARD,
                _("Conservative: one tap from %(first)s, two from %(second)s")
                % {"first": sizes[FIRST_TAP_UM], "second": sizes[SECOND_TAP_UM]},
            ),
            (guidelines.ONE, _("One tap at most, from %(first)s") % {"first": sizes[FIRST_TAP_UM]}),
        ]
        self.fields["guideline"].initial = guidelines.STANDARD
        self.fields["guideline"].help_text = _(
            "Across the trunk. Stricter sizes can be set on the season’s page; looser ones never."
        )

    def clean_year(self) -> int:
        year = int(self.cleaned_data["year"])
        if not 2000 <= year <= 2100:
            raise ValidationError(_("Give the year with four digits, such as 2026."))
        return year

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        _in_season(self, given, given.get("year"))
        return given

    @property
    def values(self) -> dict[str, Any]:
        """Columns of Season for the action."""
        given = dict(self.cleaned_data)
        choice = str(given.pop("guideline"))
        first_um, second_um = guidelines.sizes_of(choice)
        return given | {
            "guideline_name": guidelines.NAMES[choice],
            "first_tap_um": first_um,
            "second_tap_um": second_um,
        }


def _both(diameter_um: int) -> str:
    """A size in both systems, for a page read before anybody's units are known: "30.5 cm (12.0 in)"."""
    return f"{in_words('diameter', diameter_um, 'metric')} ({in_words('diameter', diameter_um, 'us')})"


class SeasonForm(EditionMixin, UnitsModelForm):
    """All rules of a season. Sizes only as conservative as the guideline, or stricter."""

    more_columns = ("guideline_name",)
    guideline = forms.ChoiceField(label=gettext_lazy("Tap guideline"), widget=forms.RadioSelect)
    first_tap_um = QuantityField(
        kind="diameter",
        label=gettext_lazy("A first tap from"),
        smallest=FIRST_TAP_UM,
        largest=LARGEST_RULE_UM,
        required=False,
        help_text=gettext_lazy("across the trunk,"),
    )
    second_tap_um = QuantityField(
        kind="diameter",
        label=gettext_lazy("A second tap from"),
        smallest=SECOND_TAP_UM,
        largest=LARGEST_RULE_UM,
        required=False,
        help_text=gettext_lazy("empty: never a second tap;"),
    )
    keep_side_mm = QuantityField(
        kind="length", label=gettext_lazy("From an old hole, sideways"), smallest=25, largest=1_000
    )
    keep_up_mm = QuantityField(
        kind="length", label=gettext_lazy("From an old hole, up and down"), smallest=25, largest=2_000
    )
    keep_open_side_mm = QuantityField(
        kind="length", label=gettext_lazy("From a hole of this season, sideways"), smallest=25, largest=1_000
    )
    tolerance_ml = QuantityField(kind="volume", label=gettext_lazy("And at least"), smallest=0, largest=5_000)
    second_person_ml = QuantityField(
        kind="volume", label=gettext_lazy("A second person approves above"), smallest=0, largest=1_000_000
    )
    fill_least_c = QuantityField(
        kind="temperature",
        label=gettext_lazy("Jars are filled at least at"),
        smallest=Decimal("82.2"),
        largest=Decimal("90.0"),
        help_text=gettext_lazy("hotter than the default is stricter; above 90 °C (194 °F) sugar sand forms again;"),
    )
    species_keys = forms.MultipleChoiceField(
        label=gettext_lazy("Kinds that may be tapped"), widget=forms.CheckboxSelectMultiple
    )
    reason = forms.CharField(
        label=gettext_lazy("Why the rules change"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy("Kept in the history beside the old rules."),
    )

    class Meta:
        model = Season
        fields = [
            "tapping_from",
            "tapping_to",
            "first_tap_um",
            "second_tap_um",
            "check_good_days",
            "species_keys",
            "keep_side_mm",
            "keep_up_mm",
            "keep_open_side_mm",
            "tolerance_pct",
            "tolerance_ml",
            "second_person_ml",
            "syrup_brix",
            "assumed_brix",
            *KEEPING,
            *DENSITY,
            "fill_least_c",
        ]
        labels = {
            "keep_limit_h": gettext_lazy("Sap keeps at most"),
            "keep_soon_h": gettext_lazy("“Boil soon” shows after"),
            "keep_warm_h": gettext_lazy("Above 10 °C (50 °F) it keeps at most"),
            "syrup_least_brix": gettext_lazy("Syrup has at least"),
            "syrup_most_brix": gettext_lazy("Syrup has at most"),
        }
        widgets = {"tapping_from": DayInput, "tapping_to": DayInput}
        help_texts = {
            "check_good_days": gettext_lazy("days"),
            "tolerance_pct": gettext_lazy("per cent (%) of what was held"),
            "syrup_brix": gettext_lazy("°Brix"),
            "assumed_brix": gettext_lazy("°Brix"),
            "keep_limit_h": gettext_lazy("hours from the tree, 168 (7 days) or fewer; warm hours count more"),
            "keep_soon_h": gettext_lazy("hours, 120 (5 days) or fewer"),
            "keep_warm_h": gettext_lazy("hours by a log of the sap, 24 or fewer"),
            "syrup_least_brix": gettext_lazy("°Brix, 66.0 or more; thinner syrup moulds and is held back"),
            "syrup_most_brix": gettext_lazy("°Brix, 68.9 or less; thicker syrup forms crystals and is held back"),
        }

    field_order = ["tapping_from", "tapping_to", "guideline", "first_tap_um", "second_tap_um", "check_good_days"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        season = self.instance
        standard = guidelines.sentence(Season(), self.units)
        self.fields["guideline"].choices = [  # type: ignore[attr-defined]  # a ChoiceField
            (guidelines.STANDARD, _("Conservative")),
            (guidelines.ONE, _("One tap at most")),
            (guidelines.OWN, _("Own sizes, stricter")),
        ]
        self.fields["guideline"].initial = guidelines.choice_of(season.first_tap_um, season.second_tap_um)
        self.fields["guideline"].help_text = _("Conservative: %(rule)s Own sizes may be larger, never smaller.") % {
            "rule": standard
        }
        for name, low, high in (
            ("tolerance_pct", 0, 20),
            ("syrup_brix", 60, 75),
            ("assumed_brix", 0, 12),
            *((name, *limits) for name, limits in (KEEPING | DENSITY).items()),
        ):
            field = self.fields[name]
            field.widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
            field.min_value, field.max_value = low, high  # type: ignore[attr-defined]  # a DecimalField
            field.validators += forms.DecimalField(min_value=low, max_value=high).validators
            if name in KEEPING | DENSITY:
                words = {"low": low, "high": high}
                field.validators = [
                    MinValueValidator(Decimal(str(low)), _("Give %(low)s or more, up to %(high)s.") % words),
                    MaxValueValidator(
                        Decimal(str(high)),
                        _("Looser than %(high)s is not offered: give %(low)s to %(high)s.") % words,
                    ),
                ]
        if season.frozen_at is None:
            del self.fields["reason"]
        self._offer_kinds()

    def _offer_kinds(self) -> None:
        """A draft takes its list when it opens; from then on the list is one of the rules."""
        known = changed.kinds() or []
        listed = set(self.instance.species_keys)
        offered = [(kind.key, kind.label) for kind in known if kind.usual or kind.key in listed]
        offered += [(key, key) for key in sorted(listed - {kind.key for kind in known})]
        if self.instance.frozen_at is None or not offered:
            del self.fields["species_keys"]
            self.columns.remove("species_keys")
            self.mark_seen()
        else:
            self.fields["species_keys"].choices = offered  # type: ignore[attr-defined]  # a ChoiceField

    def clean_species_keys(self) -> list[str]:
        return sorted(self.cleaned_data["species_keys"])

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        _in_season(self, given, self.instance.year)
        choice = given.get("guideline")
        if choice in {guidelines.STANDARD, guidelines.ONE}:
            # The sizes typed for "own" do not count now, so nothing about them is wrong.
            for name in ("first_tap_um", "second_tap_um"):
                self.errors.pop(name, None)
            given["first_tap_um"], given["second_tap_um"] = guidelines.sizes_of(str(choice))
        elif choice == guidelines.OWN and "first_tap_um" not in self.errors:
            first, second = given.get("first_tap_um"), given.get("second_tap_um")
            if first is None:
                self.add_error("first_tap_um", _("Give the size from which a first tap is allowed."))
            elif second is not None and second < first:
                self.add_error("second_tap_um", _("A second tap may not come at a smaller size than the first."))
        given["guideline_name"] = guidelines.NAMES.get(str(choice), "")
        self._check_keeping(given)
        return given

    def _check_keeping(self, given: dict[str, Any]) -> None:
        """Numbers that must fit each other: the warning before the limit, the finish within the density."""
        limit, soon, warm = (given.get(name) for name in KEEPING)
        if limit is not None and soon is not None and soon > limit:
            self.add_error("keep_soon_h", _("The warning has to come before the limit of %(h)s h.") % {"h": limit})
        if limit is not None and warm is not None and warm > limit:
            self.add_error("keep_warm_h", _("Warm sap cannot keep longer than %(h)s h.") % {"h": limit})
        least, most, finish = given.get("syrup_least_brix"), given.get("syrup_most_brix"), given.get("syrup_brix")
        if least is not None and most is not None and least > most:
            self.add_error("syrup_most_brix", _("The most cannot be less than the least, %(b)s °Brix.") % {"b": least})
        elif least is not None and most is not None and finish is not None and not least <= finish <= most:
            moved = {"syrup_brix", "syrup_least_brix", "syrup_most_brix"} & set(self.changed_data)
            if moved:
                self.add_error(
                    "syrup_brix",
                    _("Syrup finished there would be held back: choose %(least)s to %(most)s °Brix.")
                    % {"least": least, "most": most},
                )


class ReasonForm(UnitsForm):
    """Why a closed season opens again."""

    reason = forms.CharField(
        label=gettext_lazy("Why it opens again"), max_length=400, widget=forms.Textarea(attrs={"rows": 2})
    )
