"""What is said about the rows of a file: by reason for the counts, in a sentence for each row."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.parts.shown import in_words
from sugarbush.trees.files import ImportProblem, ImportRun
from sugarbush.trees.models import Land
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.reading.refusals import refusal_sentence
from sugarbush.trees.reading.streets import street_refusal_sentences
from sugarbush.trees.taking.words_past import past_reasons, past_sentence
from sugarbush.trees.tiles import metres_between

CHANGED, GONE = "changed", "gone"


def reason_words(code: str) -> str:
    """A reason in a few words, for the counts."""
    return _reasons().get(code, code)


def _reasons() -> dict[str, str]:
    return {
        **past_reasons(),
        "ragged": _("more or fewer cells than the heading"),
        "open_quote": _("a quote mark left open"),
        "not_a_point": _("a shape that is not a point"),
        "several_places": _("several places for one tree"),
        "coordinates_missing": _("no position"),
        "coordinates_not_numbers": _("a position that is not a number"),
        "position_unreadable": _("a position that is not understood"),
        "coordinates_swapped": _("longitude and latitude swapped"),
        "coordinates_out_of_range": _("a position not on earth"),
        "outside_box": _("outside the programme’s box"),
        "sign_missing": _("outside the programme’s box: a minus sign missing"),
        "diameter_zero": _("size of nought"),
        "diameter_negative": _("size below nothing"),
        "diameter_absurd": _("size too large for any tree"),
        "diameter_not_a_number": _("size that is not a number"),
        "stump": _("stump"),
        "vacant": _("vacant site"),
        "removed": _("tree removed"),
        "species_missing": _("no species named"),
        "species_unknown": _("species not known here"),
        "number_twice": _("number used twice"),
        "number_too_long": _("number too long"),
        "not_a_line": _("a shape that is not a line"),
        "no_line": _("no line"),
        "bad_points": _("a place not on earth"),
        CHANGED: _("changed since last time"),
        GONE: _("in the programme, but no longer in the file"),
    }


def remark_words(code: str) -> str:
    """What was noted about rows that were taken, in a few words."""
    return {
        "code_has_two_meanings": _("the code has two meanings: listed by its genus"),
        "kind_not_listed": _("a kind we do not know: listed by its genus"),
        "cross": _("a cross we do not know: listed by its genus"),
        "names_disagree": _("the names do not agree: the first one was taken"),
        "several_stems": _("a size of several stems: counts as not measured"),
        "size_range": _("a range for a size: counts as not measured"),
        "dead": _("the file calls it dead or dying: look before you plan"),
    }.get(code, code)


def what_words(what: str) -> str:
    """The part of a tree's row that changed."""
    return {
        "species": _("species"),
        "size": _("size"),
        "stems": _("stems"),
        "place": _("position"),
        "address": _("address"),
        "side": _("side of the street"),
        "land": _("whose land"),
        "note": _("note"),
        "surveyed": _("day of the survey"),
    }[what]


def sentence_of(problem: ImportProblem, units: str) -> str:
    """The row's sentence in the reader's language and units."""
    code, values = problem.reason, problem.values
    if code in past_reasons():
        return past_sentence(code, values, units)
    if code == CHANGED:
        return _changed_sentence(values, units)
    if code == GONE:
        return _(
            "%(code)s is in the programme, but this file has no such tree, or its row was not taken. "
            "Look whether it still stands."
        ) % {"code": values["code"]}
    # Trees and streets share a code; a street is named by its name.
    if code in street_refusal_sentences() and "longitude" not in values:
        return str(street_refusal_sentences()[code] % values)
    return refusal_sentence(code, values)


def _changed_sentence(values: dict[str, Any], units: str) -> str:
    theirs = [change for change in values["changes"] if not change[3]]
    ours = [change for change in values["changes"] if change[3]]
    said = []
    if theirs:
        told = "; ".join(_change(what, old, new, units) for what, old, new, _ours in theirs)
        said.append(f"{values['code']}: {told}.")
    if ours:
        kept = "; ".join(
            _("%(what)s: the file says %(theirs)s, ours stays %(ours)s")
            % {"what": what_words(what), "theirs": _value(what, new, units), "ours": _value(what, old, units)}
            for what, old, new, _ours in ours
        )
        said.append(f"{values['code']}: {kept}. " + _("Look which is right."))
    return " ".join(said)


def _change(what: str, old: Any, new: Any, units: str) -> str:
    if what == "place":
        metres = metres_between(lon1=old[0], lat1=old[1], lon2=new[0], lat2=new[1])
        return _("position moved by %(metres)s m") % {"metres": f"{metres:.1f}"}
    return f"{what_words(what)}: {_value(what, old, units)} → {_value(what, new, units)}"


def _value(what: str, value: Any, units: str) -> str:
    if what == "size":
        return in_words("diameter", value, units)
    if what == "place":
        return f"{value[0]:.6f}, {value[1]:.6f}"
    if what == "land":
        return str(Land(value).label)
    return f"“{value}”" if value not in ("", None) else _("nothing")


def ended_sentence(run: ImportRun) -> str:
    """Why a run stopped before its end; nothing for one that did not."""
    if "ended" not in run.report:
        return ""
    code, values = run.report["ended"]
    own = {
        "by_hand": _("Stopped by hand."),
        "file_gone": _("The file is no longer on this machine. Bring it again."),
        "columns_gone": _("The columns chosen do not fit this file any more. Bring the file again."),
        "disk_full": _("The machine has no room left. Make room on its disk, then go on."),
        "unforeseen": _("Something went wrong that is written in the server’s log. Go on, or tell who looks after it."),
        "cut_off": _("The server stopped several times at this file. Look at its log and its memory, then go on."),
        "no_programme": _("The programme is not opened yet. Open it, then go on."),
    }
    return own[code] if code in own else CannotRead(code, **values).sentence


def may_go_on(run: ImportRun) -> bool:
    """Whether going on from where a run stopped can help; a broken file stays broken."""
    return run.state == ImportRun.State.STOPPED and run.report.get("ended", [""])[0] in {
        "by_hand",
        "disk_full",
        "unforeseen",
        "cut_off",
        "no_programme",
    }


def rows_words(count: int) -> str:
    return ngettext("%(count)d row", "%(count)d rows", count) % {"count": count}
