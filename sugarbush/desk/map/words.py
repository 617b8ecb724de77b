"""Sentences the map's script puts together, in the reader's language. {n} stands for a number, {words} for words."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

ONE, SEVERAL = 1, 2


def _both(one: str, several: str) -> list[str]:
    return [ngettext(one, several, ONE), ngettext(one, several, SEVERAL)]


def words_for_script() -> dict[str, str | list[str] | dict[str, str]]:
    """Each sentence by its name; a list is [for one, for several]."""
    return {
        "trees": _both("{n} tree", "{n} trees"),
        "tapped": _both("{n} tapped", "{n} tapped"),
        "chosen": _both("{n} tree chosen", "{n} trees chosen"),
        "give": _both("Give {n} tree", "Give {n} trees"),
        "giveTo": _both("Give {n} tree to {words}", "Give {n} trees to {words}"),
        "giveNone": _("Give trees"),
        "noneChosen": _("None chosen yet."),
        "chooseFirst": _("None chosen yet. Choose in the list or draw round trees on the map."),
        "justChosen": _both("{n} tree more chosen.", "{n} trees more chosen."),
        "tooMany": _("These are more trees than can be chosen at once. Come closer, or filter."),
        "lasso": _(
            "Draw a line round the trees, or press its corners one by one; press the first one again to close it."
        ),
        "box": _("Press one corner of the box, then the corner across; or draw it."),
        "stopDrawing": _("Stop drawing"),
        "drawRound": _("Draw round trees"),
        "drawBox": _("Draw a box"),
        "noSignal": _("The map can’t be reached just now. What is chosen is kept. It tries again when you move."),
        "signIn": _("You have been signed out. Open the page again to sign in; what is chosen here is then lost."),
        "pinHere": _("Tree here: latitude {lat}°, longitude {lon}°."),
        "pinMoved": moved_words(),
        "chooseThis": _("Choose this tree"),
        "chooseNotThis": _("Take it out of the choice"),
        "mapLabel": _("Map sheet. The arrow keys move it, plus and minus come closer and go further."),
    }


def moved_words() -> dict[str, str]:
    """What is said when the pin has moved, by the way it went."""
    return {
        "north": _("Moved 1 m north."),
        "south": _("Moved 1 m south."),
        "east": _("Moved 1 m east."),
        "west": _("Moved 1 m west."),
    }
