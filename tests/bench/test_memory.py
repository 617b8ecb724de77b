"""The server after the demo season takes at most 150 MB, all processes together. The limit is the project's own."""

from __future__ import annotations

import http.cookiejar
import re
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from deploy import memory
from tests.setup.serving import Server, serving

LIMIT_MB = 150
PAGES = 60


def walk(server: Server) -> int:
    """Come in as the demo’s coordinator and open pages as far as links lead; return how many answered."""
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))
    root = f"http://127.0.0.1:{server.port}"
    page = browser.open(f"{root}/sign-in/").read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    coordinator = re.search(r'name="person" value="(\d+)"', page[page.index("Odile Brandvold") :])
    assert token is not None, page
    assert coordinator is not None, page
    sent = f"csrfmiddlewaretoken={token[1]}&person={coordinator[1]}".encode()
    browser.open(f"{root}/sign-in/demo/", data=sent).read()
    waiting, seen, answered = ["/"], set[str](), 0
    while waiting and len(seen) < PAGES:
        path = waiting.pop(0)
        if path in seen:
            continue
        seen.add(path)
        try:
            with browser.open(root + path, timeout=60) as answer:
                answered += 1
                if "text/html" in answer.headers["Content-Type"]:
                    waiting += re.findall(r'href="(/[^"#]*)"', answer.read().decode())
        except urllib.error.HTTPError as refused:
            assert refused.code < 500, (path, refused.code)
    return answered


@pytest.mark.skipif(not Path("/proc/self/smaps_rollup").exists(), reason="only Linux counts shared memory so")
def test_the_demo_season_is_served_within_the_limit(tmp_path: Path) -> None:
    # The demo is made first, which takes a busy machine minutes.
    with serving(tmp_path / "data", ready_within_s=600) as server:
        assert walk(server) > 10
        taken_mb = sum(memory.pss_kb(pid) for pid in memory.family(server.process.pid)) * 1024 / 1e6
        print(f"{taken_mb:.0f} MB of at most {LIMIT_MB} MB")
        assert server.stop() == 0
    assert taken_mb <= LIMIT_MB
