"""The programme under a path of a host it shares: https://example.org/sap instead of a host of its own."""

from __future__ import annotations

import re
import urllib.request
from html.parser import HTMLParser
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any
from urllib.parse import urldefrag, urljoin

import pytest

from sugarbush import environment
from sugarbush.parts.proxies import under_path
from tests.setup.serving import serving

MOST_PAGES = 120


class Addresses(HTMLParser):
    """Every address a page names, in links, forms, files and the data that scripts read."""

    def __init__(self) -> None:
        super().__init__()
        self.links: set[str] = set()
        self.named: set[str] = set()
        self.secret = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if value and (name in {"href", "src", "action", "formaction"} or name.startswith("data-")):
                if name.startswith("data-") and not value.startswith("/"):
                    continue
                self.named.add(value)
                if name == "href" and tag == "a":
                    self.links.add(value)
        given = dict(attrs)
        if given.get("name") == "csrfmiddlewaretoken":
            self.secret = given.get("value") or ""


def test_every_page_link_and_file_lies_under_the_path(data: Path) -> None:
    jar = CookieJar()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    with serving(data, "--empty", SUGARBUSH_PUBLIC_URL="http://127.0.0.1/sap") as server:
        assert "http://127.0.0.1/sap" in server.printed
        [token] = re.findall(r"http://127.0.0.1/sap/sign-in/(\S+)/", server.printed)
        root = f"http://127.0.0.1:{server.port}"

        def look(path: str, body: bytes | None = None) -> Addresses:
            with opener.open(root + path, data=body, timeout=20) as answer:
                assert answer.status == 200, path
                assert answer.url.startswith(f"{root}/sap/"), (path, answer.url)
                page = Addresses()
                if "html" in answer.headers["Content-Type"]:
                    page.feed(answer.read().decode())
                return page

        secret = look(f"/sap/sign-in/{token}/").secret
        look(f"/sap/sign-in/{token}/", f"csrfmiddlewaretoken={secret}".encode())
        assert {cookie.path for cookie in jar} == {"/sap/"}
        waiting, seen = ["/sap/"], {"/sap/"}
        while waiting and len(seen) < MOST_PAGES:
            here = waiting.pop(0)
            page = look(here)
            for named in page.named:
                whole = urldefrag(urljoin(root + here, named)).url
                if whole.startswith(("http://", "https://")) and not whole.startswith(root):
                    continue  # a source elsewhere
                assert whole.startswith((f"{root}/sap/", "mailto:", "tel:", "geo:", "data:")), (here, named)
                path = whole.removeprefix(root)
                if (named in page.links or "/static/" in path) and path not in seen:
                    seen.add(path)
                    waiting.append(path)
        assert len(seen) > 25, seen
        with opener.open(f"{root}/sap/service-worker.js", timeout=20) as answer:
            assert answer.headers["Service-Worker-Allowed"] == "/sap/"
            kept = answer.read().decode()
        assert '"home":"/sap"' in kept
        for file in re.findall(r'"(/[^"]*\.(?:js|css|svg)[^"]*)"', kept.splitlines()[2]):
            look(file)


def test_a_web_server_in_front_may_pass_the_path_on_or_take_it_off() -> None:
    def app(environ: Any, _start: Any) -> list[bytes]:
        return [environ["PATH_INFO"].encode()]

    def seen(asked: str) -> str:
        wrapped: Any = under_path(app, "/sap")
        [path] = wrapped({"PATH_INFO": asked}, None)
        return bytes(path).decode()

    assert [seen(path) for path in ("/sap/trees/", "/trees/", "/sap", "/sapling/")] == [
        "/trees/",
        "/trees/",
        "/",
        "/sapling/",
    ]


@pytest.mark.parametrize(
    "address",
    [
        "https://example.org/sap?x",
        "https://example.org/../sap",
        "https://me@example.org",
        "https://example.org/a b",
        "x",
    ],
)
def test_an_address_that_is_none_is_refused_in_words(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SUGARBUSH_PUBLIC_URL", address)
    with pytest.raises(SystemExit, match="SUGARBUSH_PUBLIC_URL"):
        environment.public_url()
    monkeypatch.setenv("SUGARBUSH_PUBLIC_URL", "https://example.org/town/sap/")
    assert environment.public_url() == "https://example.org/town/sap"
