"""A small family of processes: started together, stopped together, none outliving the others."""

from __future__ import annotations

import ctypes
import gc
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable, Mapping

STOP_SIGNALS = {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}
WATCHED_SIGNALS = STOP_SIGNALS | {signal.SIGCHLD}
STOP_WAIT_S = 15
PR_SET_PDEATHSIG = 1

Work = Callable[[], int]  # returns the status to end with


def run_and_wait(work: Work) -> int:
    """Run the work in a child, so that its memory goes with it, and return the child's status."""
    child = _fork(work, own_group=False)
    try:
        _, status = os.waitpid(child, 0)
    except KeyboardInterrupt:
        os.waitpid(child, 0)
        return 130
    return os.waitstatus_to_exitcode(status)


def run_together(works: Mapping[str, Work], *, after_start: Callable[[], None]) -> int:
    """Run each work in a child of its own until a stop signal comes (0) or one of them ends by itself (1)."""
    if signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
        STOP_SIGNALS.discard(signal.SIGHUP)  # started with nohup: it shall outlive its terminal
        WATCHED_SIGNALS.discard(signal.SIGHUP)
    signal.pthread_sigmask(signal.SIG_BLOCK, WATCHED_SIGNALS)
    # A signal whose action is "ignore" may be dropped while it is blocked; a handler of our own keeps it waiting.
    signal.signal(signal.SIGCHLD, lambda _number, _frame: None)
    # What is loaded so far stays as it is: the collector shall not write to pages that the children share.
    gc.collect()
    gc.freeze()
    children = {_fork(work, own_group=True): name for name, work in works.items()}
    after_start()
    while True:
        if signal.sigwait(WATCHED_SIGNALS) in STOP_SIGNALS:
            _stop(children)
            return 0
        if ended := _reap(children):
            sys.stderr.write(
                f"The {ended[0]} stopped by itself, so everything stops. Start again with: sh deploy/start\n"
            )
            _stop(children)
            return 1


def _stop(children: dict[int, str]) -> None:
    """Ask each to stop; after a while, or at a second Ctrl-C, make it.

    A task cut off so is queued again at the next start.
    """
    _signal_all(children, signal.SIGTERM)
    give_up = time.monotonic() + STOP_WAIT_S
    while children and time.monotonic() < give_up:
        if STOP_SIGNALS & signal.sigpending():
            signal.sigwait(STOP_SIGNALS)
            break
        # Polled: the call that waits for a signal with a time limit is missing on some systems.
        time.sleep(0.05)
        _reap(children)
    _signal_all(children, signal.SIGKILL)
    for child in children:
        os.waitpid(child, 0)


def _signal_all(children: Mapping[int, str], number: signal.Signals) -> None:
    for child in children:
        os.kill(child, number)


def _reap(children: dict[int, str]) -> list[str]:
    """Take note of the children that have ended, and return their names."""
    ended = []
    for child in list(children):
        if os.waitpid(child, os.WNOHANG)[0]:
            ended.append(children.pop(child))
    return ended


def _fork(work: Work, *, own_group: bool) -> int:
    sys.stdout.flush()
    sys.stderr.flush()
    parent = os.getpid()
    child = os.fork()
    if child:
        return child
    status = 1
    try:
        if own_group:
            # Ctrl-C goes to the whole group of the terminal; only the parent shall hear it and pass it on in order.
            os.setpgid(0, 0)
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
            signal.pthread_sigmask(signal.SIG_UNBLOCK, WATCHED_SIGNALS)
        _end_with(parent)
        status = work()
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else int(end.code is not None)
    except KeyboardInterrupt:
        status = 130
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        # Leave at once: the parent's clean-up, copied by the fork, is not this process's to run.
        os._exit(status)


def _end_with(parent: int) -> None:
    """Ask the kernel (Linux) to end this process when its parent is killed outright."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
        if os.getppid() != parent:
            os._exit(1)
