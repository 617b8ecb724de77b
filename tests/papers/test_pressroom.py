"""The process that sets documents: what it reaches, how it ends, and that the next one who prints finds another."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path

import pytest

from sugarbush.papers.press import CannotShow, Press, PressFailed

pytestmark = pytest.mark.pure
SIMPLE = {"main.typ": '#set page(paper: "a4")\n#json("data.json").name', "data.json": '{"name": "Ægir"}'}


@pytest.fixture
def house():
    found = Press(idle_s=60, fonts="")
    yield found
    found.close()


def test_it_starts_with_the_first_print_and_stays_for_the_next(house):
    assert house.child_pid is None
    assert house.print_pdf(SIMPLE).startswith(b"%PDF-")
    first = house.child_pid
    house.print_pdf(SIMPLE)
    assert house.child_pid == first is not None


def test_neither_the_app_nor_its_secrets_are_loaded_there(house):
    house.print_pdf(SIMPLE)
    with open(f"/proc/{house.child_pid}/maps") as maps, open(f"/proc/{house.child_pid}/environ") as environ:
        assert "sqlite3" not in maps.read().lower()
        assert "SUGARBUSH" not in environ.read()


@pytest.mark.parametrize("reach", ['#read("/etc/passwd")', '#read("../child.py")', '#image("/proc/self/environ")'])
def test_a_document_reads_no_file_but_those_handed_to_it(house, reach):
    with pytest.raises(PressFailed, match=r"not found|escape the project root"):
        house.print_pdf({"main.typ": reach})
    assert house.print_pdf(SIMPLE)


def test_killed_between_two_prints_it_is_started_again(house):
    house.print_pdf(SIMPLE)
    os.kill(house.child_pid, signal.SIGKILL)
    assert house.print_pdf(SIMPLE).startswith(b"%PDF-")


def test_what_takes_too_long_is_stopped_and_the_next_print_is_good(house):
    house.print_pdf(SIMPLE)
    slow = house.child_pid
    endless = "#let n = 0\n#while n < 1 { for i in range(100000) { } }"
    began = time.monotonic()
    with pytest.raises(PressFailed, match="too long"):
        house.print_pdf({"main.typ": endless}, longest_s=0.3)
    assert time.monotonic() - began < 3
    assert house.print_pdf(SIMPLE)
    assert house.child_pid != slow


def test_without_work_it_ends_and_is_gone_for_good():
    house = Press(idle_s=0.2, fonts="")
    house.print_pdf(SIMPLE)
    pid = house.child_pid or 0
    assert pid
    give_up = time.monotonic() + 5
    while house.child_pid is not None and time.monotonic() < give_up:
        time.sleep(0.05)
    assert house.child_pid is None
    house.close()  # waits for whoever is ending it
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_threads_take_turns_and_each_gets_its_own_document(house):
    made: dict[int, bytes] = {}

    def one(n: int) -> None:
        made[n] = house.print_pdf({"main.typ": f'#set document(title: "paper-{n}")\nA'})

    threads = [threading.Thread(target=one, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 6
    assert all(f"paper-{n}".encode() in pdf for n, pdf in made.items())


def test_signs_no_font_has_are_named_before_and_boxes_come_only_when_asked(house):
    assert house.cannot_show("Zoë Łukasz Ørsted שלום मेपल 糖 ok 🍁") == "糖🍁"
    with pytest.raises(CannotShow) as found:
        house.print_pdf({"main.typ": "糖"})
    assert found.value.characters == "糖"
    assert house.print_pdf({"main.typ": "糖"}, anyway=True).startswith(b"%PDF-")


def test_a_folder_of_fonts_shows_what_the_built_in_ones_cannot():
    found = next(Path("/usr/share/fonts").rglob("DejaVuSans.ttf"), None)
    if found is None:
        pytest.skip("DejaVuSans.ttf was not found: fonts of a folder are not tried out.")
    plain, richer = Press(fonts=""), Press(fonts=str(found.parent))
    assert plain.cannot_show("😀") == "😀"
    assert richer.cannot_show("😀") == ""
    assert "DejaVu Sans" in richer.families()
    assert richer.print_pdf({"main.typ": "😀"}).startswith(b"%PDF-")
    plain.close()
    richer.close()


def test_a_forked_process_leaves_its_parents_pressroom_alone(house):
    house.print_pdf(SIMPLE)
    before = house.child_pid
    pid = os.fork()
    if pid == 0:  # the child process says by its status how it went
        try:
            good = house.print_pdf(SIMPLE).startswith(b"%PDF-") and house.child_pid not in {None, before}
            house.close()
            os._exit(0 if good else 1)
        except BaseException:
            os._exit(2)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    assert house.print_pdf(SIMPLE)
    assert house.child_pid == before
