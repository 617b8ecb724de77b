"""Why a row of a tree file was not taken, in a person's words. Codes are kept; sentences are made when shown."""

from dataclasses import dataclass, field

from sugarbush.trees.reading.words import gettext as _


@dataclass(slots=True)
class Refused:
    """A row not taken: where it stands, its number in the town's file, and why."""

    row: int
    line: int
    number: str
    reason_code: str
    values: dict[str, str] = field(default_factory=dict)

    @property
    def sentence(self) -> str:
        """What is wrong, with the value, and what to do. In the reader's language."""
        return refusal_sentence(self.reason_code, self.values)


def refusal_sentence(reason_code: str, values: dict[str, str]) -> str:
    """The sentence of a kept reason.

    >>> refusal_sentence("diameter_zero", {"size": "0"})
    'The size is 0: a tree has a size. Measure it, or leave the cell blank.'
    """
    return refusal_sentences()[reason_code] % values


def remark_sentence(remark_code: str, values: dict[str, str]) -> str:
    """The sentence of what a person should know about a row that was taken."""
    return _remarks()[remark_code] % values


def refusal_sentences() -> dict[str, str]:
    """Every reason with its sentence, values still to be filled in."""
    return {
        "ragged": _(
            "The row has %(cells)s cells, the heading %(columns)s. "
            "Look for a missing or extra delimiter, or a quote mark left open."
        ),
        "open_quote": _(
            'A quote mark (") opened here is not closed, so %(lines)s lines could not be read. '
            "Close it and bring the file again."
        ),
        "not_a_point": _("The shape is a %(shape)s, not a point. Bring trees as points."),
        "several_places": _("The entry has %(count)s places; a tree has one. Split it into one entry a tree."),
        "coordinates_missing": _("No position: longitude “%(longitude)s”, latitude “%(latitude)s”. Fill in both."),
        "coordinates_not_numbers": _(
            "The position is not a number: longitude “%(longitude)s”, latitude “%(latitude)s”. "
            "Look whether the right columns and decimal mark are chosen."
        ),
        "position_unreadable": _(
            "The position “%(position)s” is not understood. It should look like POINT (-79.38 43.65)."
        ),
        "coordinates_swapped": _(
            "Longitude and latitude look swapped: longitude “%(longitude)s”, latitude “%(latitude)s”. Exchange them."
        ),
        "coordinates_out_of_range": _(
            "No place on earth has longitude “%(longitude)s”, latitude “%(latitude)s”. "
            "They may be metres or feet on a town grid: save the file in longitude and latitude (WGS 84)."
        ),
        "outside_box": _(
            "Longitude %(longitude)s, latitude %(latitude)s is outside the programme's box. "
            "Correct the position, or widen the box."
        ),
        "sign_missing": _(
            "Longitude %(longitude)s, latitude %(latitude)s is outside the programme's box; "
            "with the other sign it would be inside. Put the minus sign right."
        ),
        "diameter_zero": _("The size is %(size)s: a tree has a size. Measure it, or leave the cell blank."),
        "diameter_negative": _("The size is %(size)s, below nothing. Measure the tree, or leave the cell blank."),
        "diameter_absurd": _(
            "The size %(size)s would be a trunk of %(metres)s m across; we take up to 4 m. "
            "Look whether the unit is right."
        ),
        "diameter_not_a_number": _(
            "The size “%(size)s” is not a number. Look whether the right column and decimal mark are chosen."
        ),
        "stump": _("This is a stump (“%(text)s”). Nothing to do."),
        "vacant": _("No tree stands here (“%(text)s”). Nothing to do."),
        "removed": _("This tree was removed (“%(text)s”). Nothing to do."),
        "species_missing": _("The row names no species. Fill it in, or write “unknown maple” as “Acer sp.”."),
        "species_unknown": _(
            "The species “%(text)s” is not known here. Look at the spelling, or write the botanical name."
        ),
        "number_twice": _(
            "Number “%(text)s” was already used in row %(first)s. Give each tree its own number; the first was taken."
        ),
        "number_too_long": _("The number “%(text)s” is longer than 64 letters. Choose another column for it."),
    }


def _remarks() -> dict[str, str]:
    return {
        "code_has_two_meanings": _(
            "The code “%(text)s” may mean more than one %(genus)s, so it is listed as that only."
        ),
        "kind_not_listed": _("“%(text)s” is not one of the kinds we know, so it is listed as %(genus)s only."),
        "cross": _("“%(text)s” is a cross we do not know, so it is listed as %(genus)s only."),
        "names_disagree": _("The names do not agree (“%(text)s”): the first one was taken."),
        "several_stems": _(
            "The size is for several stems, so it counts as not measured: the largest stem alone decides."
        ),
        "size_range": _("“%(size)s” is a range, not a measurement, so the tree counts as not measured."),
        "dead": _("The file says “%(text)s”: look before you plan."),
    }
