"""How much memory a running server takes, all its processes together (Linux).

    python -m deploy.memory PID

PID is the parent's. Pages that processes share count once: the sum is of PSS, the proportional set size.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path


def family(parent: int) -> list[int]:
    """The process and all that descend from it, the parent first."""
    found = [parent]
    for pid in found:
        for children in Path(f"/proc/{pid}/task").glob("*/children"):
            found += [int(child) for child in children.read_text().split()]
    return found


def pss_kb(pid: int) -> int:
    """The proportional set size of one process in kibibytes, as the kernel counts it."""
    found = re.search(r"^Pss:\s+(\d+) kB$", Path(f"/proc/{pid}/smaps_rollup").read_text(), re.MULTILINE)
    if found is None:
        raise ValueError(f"the kernel gives no Pss for process {pid}")
    return int(found[1])


def main() -> None:
    together_kb = 0
    for pid in family(int(sys.argv[1])):
        taken_kb = pss_kb(pid)
        together_kb += taken_kb
        print(f"{pid:>8}  {taken_kb / 1024:7.1f} MiB")
    print(f"together  {together_kb / 1024:7.1f} MiB")


if __name__ == "__main__":
    main()
