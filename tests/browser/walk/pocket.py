"""A phone in somebody's pocket: a browser with a disk of its own, that can lose its signal and be killed."""

from __future__ import annotations

import contextlib
import os
import signal
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.test import Client

from sugarbush.volunteers.models import Person

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

SIZE = (360, 640)
# Lines that Chromium itself writes when there is no signal, or when an answer is a refusal.
USUAL = ("Failed to load resource",)


class Pocket:
    """One phone. `said` holds what went wrong on its pages."""

    def __init__(self, browser: Browser, chromium: str, address: str, folder: Path | None, **how: Any) -> None:
        self.browser, self.chromium, self.address, self.folder, self.how = browser, chromium, address, folder, how
        self.said: list[str] = []
        self.context: BrowserContext
        self.page: Page
        self.open()

    def open(self, *, online: bool = True) -> Pocket:
        """Switch the browser on: without a folder one that forgets all when it is closed, which opens much faster."""
        size = self.how.get("size", SIZE)
        how: dict[str, Any] = {
            "base_url": self.address,
            "viewport": {"width": size[0], "height": size[1]},
            "has_touch": True,
            "locale": "en-US",
            **{name: value for name, value in self.how.items() if name != "size"},
        }
        if self.folder is None:
            self.context = self.browser.new_context(**how)
        else:
            args = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
            self.context = self.browser.browser_type.launch_persistent_context(
                self.folder, executable_path=self.chromium, args=args, **how
            )
        self.context.set_default_timeout(10_000)
        self.context.set_offline(not online)
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.listen(self.page)
        return self

    def listen(self, page: Page) -> None:
        page.on("pageerror", lambda wrong: self.said.append(str(wrong)))
        page.on("console", lambda line: None if line.text.startswith(USUAL) else self.said.append(line.text))

    def sign_in(self, person: Person) -> Pocket:
        client = Client()
        client.force_login(person)
        name = settings.SESSION_COOKIE_NAME
        self.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": self.address}])
        return self

    def take_along(self, person: Person) -> Pocket:
        """Open the round with signal, until everything is on the phone."""
        self.sign_in(person)
        self.go()
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        self.page.wait_for_function("() => navigator.serviceWorker.controller !== null")
        return self

    def go(self, hash_: str = "") -> Pocket:
        """Open the round anew, at a screen."""
        if self.page.url.startswith(f"{self.address}/round/"):
            # Going to another screen of the same page would not open it anew.
            self.page.evaluate("(hash) => { location.hash = hash }", hash_)
            self.page.reload()
        else:
            self.page.goto(f"/round/{hash_}")
        self.page.wait_for_selector("body[data-ready]")
        return self

    def signal(self, there: bool) -> Pocket:
        self.context.set_offline(not there)
        return self

    @property
    def strip(self) -> str:
        return " ".join(self.page.inner_text("#strip").split())

    def wait_for_strip(self, words: str) -> None:
        self.page.locator("#strip").filter(has_text=words).wait_for()

    def wait_until_sent(self) -> None:
        """Until the server has had its word on every entry that lies on this phone."""
        give_up = time.monotonic() + 10
        while not (rows := self.kept()) or any(row["state"] == "waiting" for row in rows):
            assert time.monotonic() < give_up, rows
            self.page.wait_for_timeout(50)

    def press(self, words: str) -> Pocket:
        """Press what stands on the screen under these words, with a finger."""
        found = self.page.locator("main").get_by_role("button", name=words, exact=True)
        found = found.or_(self.page.locator("main").get_by_role("link", name=words, exact=True))
        found.first.tap()
        return self

    def log_sap(self, mark: int = 3) -> Pocket:
        """Log sap at the tree that stands there: by the pail's mark, then Save."""
        self.press("Log sap")
        self.page.locator("[data-ml]").nth(mark).tap()
        self.page.locator("#save").tap()
        self.page.wait_for_selector(".saved:visible, .say.done:visible")
        return self

    def write_many(self, many: int, tree: str) -> None:
        """So many visits to one tree, written to the phone's disk as the page writes them."""
        self.page.evaluate(
            """async ([many, tree]) => {
                 const disk = await import("/static/js/phone/disk.js");
                 const outbox = await import("/static/js/phone/outbox.js");
                 const person = await disk.note("who");
                 const contact = await disk.note("contact");
                 for (let n = 0; n < many; n += 1) {
                   const clock = { now_ms: Date.now() + n, mono_ms: performance.now(), session: "walk", contact };
                   const body = { tree, outcome: "frozen" };
                   await disk.add([outbox.newEntry({ kind: "visit", body, person, id: crypto.randomUUID(), clock })]);
                 }
                 new BroadcastChannel("sugarbush").postMessage("changed");
               }""",
            [many, tree],
        )

    def kept(self) -> list[dict[str, Any]]:
        """The entries as they lie on the phone's disk."""
        rows: list[dict[str, Any]] = self.page.evaluate(
            """() => new Promise((done, failed) => {
                 const asked = indexedDB.open("sugarbush");
                 asked.onerror = () => failed(asked.error);
                 asked.onsuccess = () => {
                   const all = asked.result.transaction("entries").objectStore("entries").getAll();
                   all.onsuccess = () => { asked.result.close(); done(all.result); };
                 };
               })"""
        )
        return sorted(rows, key=lambda row: row["n"])

    def kill(self) -> None:
        """End the browser's processes at once, as when the battery is pulled."""
        for pid in self._processes():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        with contextlib.suppress(Exception):
            self.context.close()

    def _processes(self) -> list[int]:
        mine = f"--user-data-dir={self.folder}"
        found = []
        for entry in Path("/proc").iterdir():
            with contextlib.suppress(OSError):
                if entry.name.isdecimal() and mine in (entry / "cmdline").read_text(errors="replace"):
                    found.append(int(entry.name))
        return found

    def close(self) -> None:
        with contextlib.suppress(Exception):
            self.context.close()
