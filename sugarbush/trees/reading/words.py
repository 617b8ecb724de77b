"""Translation that also works before Django is set up (a script, a bare test)."""


def gettext(message: str) -> str:
    """The message in the reader's language; the message itself where no settings are loaded."""
    from django.conf import settings

    if not settings.configured:
        return message
    from django.utils.translation import gettext as translate

    return translate(message)


def shown(text: str, *, most: int = 80) -> str:
    """A value out of the file, on one line and short enough for a sentence."""
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1] + "…"


def word_set(text: str) -> frozenset[str]:
    """The words of a text, for lists of words that read better as a line of prose."""
    return frozenset(text.split())
