"""Setting documents in a process of its own: `press.print_pdf` and `press.cannot_show` are all the app asks."""

from sugarbush.papers.press.house import CannotShow, Press, PressBusy, PressFailed, press

__all__ = ["CannotShow", "Press", "PressBusy", "PressFailed", "press"]
