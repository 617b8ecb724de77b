"""What is kept about people: one table, read by the page. Lengths are those the programme works with, roles those of
the table of who may do what, so that the page cannot say something else than what is done.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.papers import jobs
from sugarbush.phone.pack import GOOD_DAYS
from sugarbush.seasons.models import Programme
from sugarbush.volunteers import access, codes, known, limits, signing

DAY_S = 24 * 3600


@dataclass(frozen=True)
class Kept:
    """One line: what, why, for how long, and who sees it."""

    what: str
    why: str
    how_long: str
    who: str


def seen_by(*acts: str, also: str = "") -> str:
    """The roles that may do one of these acts, in words, with whoever else sees it in front."""
    roles = dict.fromkeys(role for act in acts for role in access.roles_for(act))
    words = [str(access.LABELS[role]) for role in access.LABELS if role in roles]
    return capfirst(", ".join([also, *words] if also else words))


def table() -> list[Kept]:
    """The lines, those about volunteers first."""
    yourself = _("you yourself")
    programme = Programme.current()
    years = programme.forget_after_years if programme else None
    until_gone = (
        ngettext(
            "Until you ask for your name to go, or %(years)d year after you left.",
            "Until you ask for your name to go, or %(years)d years after you left.",
            years,
        )
        % {"years": years}
        if years
        else _("Until you have left and ask for your name to go.")
    )
    for_good = _("For good: it is the programme’s book. When your name goes, it says “A former volunteer”.")
    return [
        Kept(
            _("Your name, groups and roles, from when to when"),
            _("So that people know who does what, and rights end when a role ends."),
            until_gone,
            seen_by("people.see", also=yourself),
        ),
        Kept(
            _("E-mail address if you gave one, language, units, the most you carry, and an age band, never a birthday"),
            _("To reach you, to cut rounds to what you can carry, and to book nobody too young."),
            until_gone,
            seen_by("people.see", also=yourself),
        ),
        Kept(
            _("Trainings, your yes to the house rules, a guardian’s consent: what, who vouched, until when"),
            _("Some work is only for those who have shown something."),
            _("What and when stay with the entries they allowed; notes go with your name."),
            seen_by("people.see", also=yourself),
        ),
        Kept(
            _("What you enter: sap, visits, checks, deliveries, with the time"),
            _("The litres are counted, shared out, and traced from jar to tree if something is wrong with a jar."),
            for_good,
            seen_by("collection.see"),
        ),
        Kept(
            _("Photos of trees"),
            _("To show which tree it is and how it is."),
            _("As long as the tree is kept. They are drawn anew: place, camera and time inside the file are gone."),
            seen_by("trees.see"),
        ),
        Kept(
            _("Your share, and which jars you have"),
            _("To hand out what is yours, and to call jars back."),
            _("For good. When your name goes, it stands on only in the sealed sums of final shares, on no page."),
            seen_by("share.handout", "lot.holders", also=yourself),
        ),
        Kept(
            _("An owner’s name, their trees, what they said, the scan of the slip"),
            _("No tree is tapped without its owner’s yes, and the yes can be shown."),
            _("As long as the tree is kept: the proof of the yes outlives the season."),
            seen_by("owners.see"),
        ),
        Kept(
            _("How to reach an owner: telephone, e-mail, address, a note"),
            _("To ask, to tell them when it begins and ends, to bring their jar."),
            _("As long as the owner is written down, earlier versions too. Each look is noted, once a person and day."),
            seen_by("contact.see"),
        ),
        Kept(
            _("An owner’s private link, as a mark that opens nothing, and what was said by it: name, words, time"),
            _("So that owners see their trees, answer and stop without an account. Looking is not written down."),
            _("It opens until its day, or until it is withdrawn. What was said stays as long as the slip."),
            seen_by("owner.link"),
        ),
        Kept(
            _("The history: who did what, when, from what to what, and why"),
            _("So that a changed right, permission or litre can be explained."),
            _("For good; nobody can change it. People stand in it by number; a name typed in a reason or note stays."),
            seen_by("audit.see"),
        ),
        Kept(
            _("Messages sent to you, to which address, and what became of each; whether you want any, since when"),
            _("So that it can be seen who was told what, and nobody is written to who said no."),
            _("For good. When your name goes, name and address go from the messages too."),
            seen_by("notices.see", also=yourself),
        ),
        Kept(
            _("Papers you printed: which, with number and day; a round sheet you keyed in; long prints as files"),
            _("So that a paper that comes back finds its record, and a sheet counts once."),
            _("Numbers for good; files of long prints %(hours)d hours.") % {"hours": jobs.KEPT.total_seconds() // 3600},
            seen_by("audit.see", also=yourself),
        ),
        Kept(
            _("Devices you are signed in on (“Firefox on Android”), when they were last seen, your links and cards"),
            _("So that you need no password, and can sign a lost device out."),
            _("Signed in: %(days)d days at most. A link opens for %(link)d days.")
            % {"days": settings.SESSION_COOKIE_AGE // DAY_S, "link": signing.GOOD_FOR.days},
            seen_by("people.change", also=yourself),
        ),
        Kept(
            _("The private address of your calendar, if you made one, as a mark that opens nothing by itself"),
            _("So that your rounds, boiling days and shifts stand in your calendar. No owner and no tree is in it."),
            _("Until you take it away or leave. What your calendar program keeps is between you and its maker."),
            capfirst(yourself),
        ),
        Kept(
            _("Tokens of your programs: what you call each, what it may read, when it last did; a mark, not the token"),
            _("So that the town’s map or a spreadsheet of yours reads what you may read, and you can end it."),
            _("Until your name goes; it opens for 400 days at most, and nothing once you take it away."),
            capfirst(yourself),
        ),
        Kept(
            _("When a coordinator makes one: all that is on this page, together in one archive file"),
            _("To move the programme to another machine, or to keep it after a season."),
            _("On this machine for a day. What is taken away is kept by who took it; that they did is in the history."),
            seen_by("programme.archive"),
        ),
        Kept(
            _("Passkeys: what you call each, its public half, when added and last used"),
            _("So that your finger or your device’s own code lets you in. Nobody comes in with the public half."),
            _("Until you remove it, or your name goes."),
            capfirst(yourself),
        ),
        Kept(
            _("That a code was asked for by mail: for whom, when, how many tries; never the code"),
            _("So that a code opens once, and only in the browser that asked for it."),
            _("It opens for %(minutes)d minutes; %(days)d day later it is thrown away.")
            % {"minutes": codes.GOOD_FOR.seconds // 60, "days": limits.KEPT_FOR.days},
            _("Nobody"),
        ),
        Kept(
            _("A cookie that says in marks who came in on this browser before"),
            _("So that no stranger who asks for codes in your name can use up yours."),
            _("On your browser, %(days)d days.") % {"days": known.KEPT_FOR.days},
            _("Nobody"),
        ),
        Kept(
            _("How often an address asked for codes or tried wrong ones, as a mark that cannot be read back"),
            _("So that nobody guesses codes."),
            _("%(days)d day after it has run out.") % {"days": limits.KEPT_FOR.days},
            _("Nobody"),
        ),
        Kept(
            _("On the phone: your round’s trees, addresses, ways in, and entries that wait to be sent"),
            _("To work without signal. No owner’s name, telephone or e-mail goes along."),
            _("The round is put away after %(days)d days without contact; entries stay until they are sent.")
            % {"days": GOOD_DAYS},
            _("Whoever holds the phone"),
        ),
        Kept(
            _("Sums of the season, and areas of 250 m and more with three tapped trees or more; nobody is named"),
            _("So that the town can see what its trees give, where the programme has switched that on."),
            _("Sums are counted once a day, areas once a week; the last ones of each season stay."),
            _("Anybody"),
        ),
    ]
