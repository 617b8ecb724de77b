"""An archive that was damaged, tampered with or made to do harm takes nothing in and leaves nothing behind."""

from __future__ import annotations

import stat
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sugarbush.archive import reading
from sugarbush.archive.loading import restore
from sugarbush.archive.manifest import CannotRestore, Upgrade, upgrades_from
from sugarbush.archive.reading import Archive
from tests.archive import kept
from tests.archive.kept import Members, change_table, said, say

pytestmark = [pytest.mark.django_db, pytest.mark.heavy]
Change = Callable[[Members], Members]


def of_manifest(change: Callable[[dict[str, Any]], object]) -> Change:
    def changed(members: Members) -> Members:
        manifest = said(members)
        change(manifest)
        return say(members, manifest)

    return changed


def of_rows(table: str, change: Callable[[list[dict[str, Any]]], object]) -> Change:
    return lambda members: change_table(members, table, change)


def of_a_member(name: str, change: Callable[[bytes], bytes]) -> Change:
    def changed(members: Members) -> Members:
        found = next(one for one in members if one.startswith(name))
        return {**members, found: change(members[found])}

    return changed


def table_of(manifest: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(table for table in manifest["tables"] if table["name"] == name)
    return found


WRONG: dict[str, tuple[Change, str]] = {
    "a millilitre more": (of_a_member("tables/sap_movement", lambda b: b.replace(b"2500", b"2501")), "not what the"),
    "a row less": (of_a_member("tables/trees_species", lambda b: b.split(b"\n", 1)[1]), "not as long"),
    "another photo": (of_a_member("uploads/trees", lambda b: b[:-1] + b"X"), "not what the manifest says"),
    "no photo": (lambda m: {n: b for n, b in m.items() if not n.startswith("uploads/trees")}, "do not agree"),
    "one file more": (lambda m: {**m, "uploads/trees/more.jpg": b"x"}, "do not agree"),
    "sums of the ledger": (of_manifest(lambda s: s["ledger"].update(volume_ml=1)), "other sums"),
    "rows and sums together": (of_rows("sap_movement", lambda r: r[0].update(volume_ml=9)), "other sums"),
    "less than nothing": (of_rows("sap_movement", lambda r: r[0].update(volume_ml=0)), "database refuses a row of sap"),
    "a number twice": (of_rows("volunteers_group", lambda r: r.append(r[0])), "database refuses"),
    "a row pointing nowhere": (
        of_rows("sap_act", lambda r: r[0].update(author_id=99_999)),
        "database refuses|points to",
    ),
    "words for a number": (of_rows("sap_movement", lambda r: r[0].update(volume_ml="9")), "other columns or values"),
    "nothing for a number": (of_rows("sap_movement", lambda r: r[0].update(volume_ml=None)), "other columns or val"),
    "a day that is none": (of_rows("trees_treeobservation", lambda r: r[0].update(date="soon")), "other columns or"),
    "a column more in a row": (of_rows("sap_act", lambda r: r[0].update(x=1)), "other columns or values"),
    "an unknown column": (of_manifest(lambda s: table_of(s, "sap_act")["columns"].update(x="text")), "is not known"),
    "an unknown table": (
        lambda m: of_manifest(lambda s: table_of(s, "sap_act").update(name="auth_user"))(
            {n.replace("sap_act", "auth_user"): b for n, b in m.items()}
        ),
        "does not take in",
    ),
    "a table that stays behind": (
        lambda m: of_manifest(lambda s: table_of(s, "sap_act").update(name="volunteers_signinlink"))(
            {n.replace("sap_act", "volunteers_signinlink"): b for n, b in m.items()}
        ),
        "does not take in",
    ),
    "a missing table": (
        lambda m: of_manifest(lambda s: s["tables"].remove(table_of(s, "sap_act")))(
            {n: b for n, b in m.items() if n != "tables/sap_act.jsonl"}
        ),
        "sap_act is missing",
    ),
    "a newer format": (of_manifest(lambda s: s.update(format_version=2)), "Update the program"),
    "no format": (of_manifest(lambda s: s.update(format="a zip")), "no archive of a programme"),
    "version nothing": (of_manifest(lambda s: s.update(format_version=0)), "No step is known"),
    "a newer program": (of_manifest(lambda s: s["migrations"]["sap"].append("0999_later")), "sap.0999_later is not"),
    "no manifest": (lambda m: {n: b for n, b in m.items() if n != "manifest.json"}, "no manifest"),
    "half a manifest": (of_a_member("manifest", lambda b: b[:500]), "cannot be read"),
    "a list for a manifest": (of_a_member("manifest", lambda _b: b"[" * 100_000), "cannot be read"),
    "a manifest without sums": (of_manifest(lambda s: table_of(s, "sap_act").pop("sha256")), "not whole"),
    "up and out": (lambda m: {**m, "uploads/../../evil": b"x"}, "no archive of ours"),
    "from the root": (lambda m: {**m, "/etc/evil": b"x"}, "no archive of ours"),
    "another system's way": (lambda m: {**m, "uploads\\..\\evil": b"x"}, "no archive of ours"),
    "a hidden name": (lambda m: {**m, "uploads/trees/.evil": b"x"}, "no archive of ours"),
    "a folder": (lambda m: {**m, "uploads/trees/": b""}, "no archive of ours"),
}


@pytest.fixture
def members(tmp_path: Path) -> Members:
    kept.small_programme()
    kept.keep(tmp_path / "good.zip")
    kept.empty()
    return kept.members_of(tmp_path / "good.zip")


def refused(path: Path, why: str) -> None:
    with pytest.raises(CannotRestore, match=why), Archive(path) as archive:
        restore(archive)
    assert kept.is_empty(), path


def test_whatever_is_wrong_is_said_and_nothing_is_taken_in(members: Members, tmp_path: Path) -> None:
    for nth, (change, why) in enumerate(WRONG.values()):
        refused(kept.pack(tmp_path / f"{nth}.zip", change(members)), why)
    with Archive(kept.pack(tmp_path / "good-again.zip", members)) as archive:
        assert restore(archive).uploads == 2


def test_a_zip_file_that_lies_is_not_unpacked(
    members: Members, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def a_link(made: zipfile.ZipFile) -> None:
        entry = zipfile.ZipInfo("uploads/trees/link.jpg")
        entry.external_attr = (stat.S_IFLNK | 0o777) << 16
        made.writestr(entry, "/etc/passwd")

    refused(kept.pack(tmp_path / "link.zip", members, a_link), "no archive of ours")
    with pytest.warns(UserWarning, match="Duplicate"):
        twice = kept.pack(tmp_path / "twice.zip", members, lambda made: made.writestr("manifest.json", "{}"))
    refused(twice, "twice")
    refused(kept.pack(tmp_path / "nothing.zip", {}), "no manifest")
    (tmp_path / "words.zip").write_text("no zip file")
    refused(tmp_path / "words.zip", "no archive that can be read")
    refused(tmp_path / "missing.zip", "There is no file")
    # A head that says 10 bytes, over a member of a hundred million: read no further than it says.
    path = tmp_path / "bomb.zip"
    kept.pack(path, of_a_member("uploads/trees", lambda _b: b"\0" * 30_000_000)(members))
    assert path.stat().st_size < 200_000
    refused(path, "not as long as the manifest says")
    raw = path.read_bytes()
    said_size = (30_000_000).to_bytes(4, "little")
    assert raw.count(said_size) >= 2
    good = said(members)["uploads"][1]["bytes"].to_bytes(4, "little")
    path.write_bytes(raw.replace(said_size, good))
    refused(path, "cannot be unpacked|longer than it says|not what the manifest says")
    # One flipped bit in a packed table.
    raw_good = bytearray(kept.pack(tmp_path / "flip.zip", members).read_bytes())
    raw_good[raw_good.index(b"tables/sap_movement") + 80] ^= 0x10
    (tmp_path / "flip.zip").write_bytes(raw_good)
    refused(tmp_path / "flip.zip", "cannot be unpacked|not what the manifest")
    monkeypatch.setattr(reading, "LINE_MOST_BYTES", 100)
    refused(kept.pack(tmp_path / "line.zip", members), "has no end")
    monkeypatch.setattr(reading.Archive, "unpacked_bytes", 10**18)
    refused(tmp_path / "line.zip", "Make room first")


def test_an_older_format_is_read_by_named_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    from sugarbush.archive import manifest

    monkeypatch.setattr(manifest, "VERSION", 3)
    steps = {1: Upgrade("from 1 to 2: litres became millilitres"), 2: Upgrade("from 2 to 3: a name")}
    monkeypatch.setattr(manifest, "UPGRADES", steps)
    assert [step.name[:11] for step in upgrades_from(1)] == ["from 1 to 2", "from 2 to 3"]
    assert upgrades_from(3) == []
    monkeypatch.setattr(manifest, "UPGRADES", {2: steps[2]})
    with pytest.raises(CannotRestore, match="No step is known"):
        upgrades_from(1)


def test_rows_of_an_older_format_pass_through_their_steps(
    members: Members, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sugarbush.archive import manifest
    from sugarbush.volunteers.models import Group

    def louder(table: str, row: dict[str, Any]) -> dict[str, Any]:
        return {**row, "name": row["name"].upper()} if table == "volunteers_group" else row

    monkeypatch.setattr(manifest, "VERSION", 2)
    monkeypatch.setattr(manifest, "UPGRADES", {1: Upgrade("from 1 to 2: groups shout", row=louder)})
    with Archive(kept.pack(tmp_path / "old.zip", members)) as archive:
        restore(archive)
    assert list(Group.objects.values_list("name", flat=True)) == ["NORTH BANK"]
