"""The history: every act has words, the page narrows and stays cheap, the table is safe, other people keep out."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.audit.models import AuditEvent, record
from sugarbush.audit.words import ACTS, WORDS
from sugarbush.volunteers import actions
from tests import make

APP = Path(__file__).resolve().parents[2] / "sugarbush"
WRITERS = {"record", "record_once_a_day", "change", "_keep"}


def acts_in_code() -> Iterator[tuple[str, str, bool]]:
    """(where, act, whether it is only a beginning) of each `act=` that is handed to a writer of the history."""
    for path in sorted(APP.rglob("*.py")):
        text = path.read_text()
        if "act=" not in text:
            continue
        tree = ast.parse(text)
        constants: dict[str, str] = {}
        for node in ast.walk(tree):
            if isinstance(node, ast.Assign):
                for target in node.targets:
                    names = target.elts if isinstance(target, ast.Tuple) else [target]
                    values = node.value.elts if isinstance(node.value, ast.Tuple) else [node.value]
                    for name, value in zip(names, values, strict=False):
                        for one in [value.body, value.orelse] if isinstance(value, ast.IfExp) else [value]:
                            if isinstance(name, ast.Name) and isinstance(one, ast.Constant):
                                constants.setdefault(name.id, "")
                                constants[name.id] += f"\n{one.value!s}"
        for node in ast.walk(tree):
            if not (isinstance(node, ast.Call) and getattr(node.func, "id", "") in WRITERS):
                continue
            for key in node.keywords:
                if key.arg != "act":
                    continue
                where = f"{path.relative_to(APP)}:{node.lineno}"
                value = key.value
                for one in [value.body, value.orelse] if isinstance(value, ast.IfExp) else [value]:
                    if isinstance(one, ast.Constant):
                        yield where, str(one.value), False
                    elif isinstance(one, ast.JoinedStr):
                        yield where, str(one.values[0].value), True  # type: ignore[attr-defined]  # begins with text
                    elif isinstance(one, ast.Name):
                        for act in constants.get(one.id, "").split("\n")[1:]:
                            yield where, act, False


def test_every_act_that_is_written_down_has_words():
    found = list(acts_in_code())
    wordless = [
        (where, act)
        for where, act, begins in found
        if not (any(known.startswith(act) for known in WORDS) if begins else act in WORDS)
    ]
    assert wordless == []
    assert len({act for _where, act, _begins in found}) > 110
    assert sum(len(acts) for _head, acts in ACTS.values()) == len(WORDS)


@pytest.mark.django_db
def test_the_history_reads_in_words_narrows_and_goes_home_as_a_safe_table():
    make.programme()
    rhea, alice, bob = make.rhea(), make.alice(), make.bob()
    tree = make.tree()
    record(by=alice, act="change tree", subject=tree, old={"access_note": "gate"}, new={"access_note": "=HYPERLINK(1)"})
    actions.stop_person(by=alice, person=bob, reason="=1+1")
    reader = Client()
    reader.force_login(rhea)
    page = reader.get(reverse("history")).content.decode()
    for words in (
        "Changed a tree",
        "Let a person leave",
        "Why: =1+1",
        "gate → ",
        " UTC",
        reverse("tree", args=[tree.code]),
    ):
        assert words in page, words
    narrowed = {
        "who=Alice&about=Bob": {"stop person", "end sessions"},
        f"person={bob.pk}": {"stop person", "end sessions"},
        f"kind=trees.tree&subject={tree.pk}": {"change tree"},
        "act=all of: trees": {"change tree"},
        "act=stop person&last=2020-01-01": set(),
        f"first={make.today()}&act=end sessions": {"end sessions"},
    }
    for asked, acts in narrowed.items():
        answer = reader.get(f"{reverse('history')}?{asked}")
        assert {line.event.act for line in answer.context["lines"]} == acts, asked
    wrong = reader.get(reverse("history") + "?who=Nobodyhere&first=yesterday&person=x&act=none")
    assert wrong.status_code == 422
    assert "Nobody is called" in wrong.content.decode()
    table = b"".join(reader.get(reverse("history-csv") + f"?person={bob.pk}")).decode()
    assert '"\'=1+1"' in table
    assert "Changed a tree" not in table
    assert AuditEvent.objects.get(act="take a table", by=rhea).new["narrowed by"] == ["person"]
    for person, status in ((make.bob(), 302), (make.lena(), 403), (make.charlie(), 403)):
        other = Client()
        other.force_login(person)
        for name in ("history", "history-csv"):
            assert other.get(reverse(name)).status_code == status


@pytest.mark.django_db
def test_a_long_history_asks_no_more_questions_than_a_short_one():
    make.programme()
    reader = Client()
    reader.force_login(make.alice())
    counts = []
    for more in (1, 60):
        for _nth in range(more):
            tree = make.tree()
            for subject in (tree, make.bob(), make.owner()):
                record(by=make.lena(), act="change tree", subject=subject, new={"life": "listed"})
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert reader.get(reverse("history")).status_code == 200
        counts.append(len(asked))
    assert counts[1] <= counts[0] <= 14
