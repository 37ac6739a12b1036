"""Opening and saving: nothing outside the folder, nothing written over unasked."""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path

import pytest

from chartc.desk.folder import ChangedOnDisk, Folder, Refused
from chartc.desk.keeping import Keeper, Kept
from chartc.desk.limits import MOST_FILE, MOST_KEPT
from chartc.writing import CannotWrite

STEPS_OUT = [
    "../secret.knit", "a/../../secret.knit", "/etc/passwd", "..", ".", "", "a\\..\\b.knit",
    "C:/x.knit", "c:x.knit", ".hidden.knit", "a/.git/x.knit", "x\0.knit", "x\n.knit",
    "//host/share.knit", "a" * 1001,
]  # fmt: skip


@pytest.mark.parametrize("path", STEPS_OUT)
def test_no_path_out_of_the_folder(folder: Path, path: str) -> None:
    (folder.parent / "secret.knit").write_text("secret")
    desk = Folder(folder)
    with pytest.raises(Refused):
        desk.open(path)
    with pytest.raises(Refused):
        desk.save(path if path else "", "text", None)


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights on this system")
def test_no_link_out_of_the_folder(folder: Path) -> None:
    outside = folder.parent / "outside"
    outside.mkdir()
    (outside / "secret.knit").write_text("secret")
    (folder / "link.knit").symlink_to(outside / "secret.knit")
    (folder / "way").symlink_to(outside, target_is_directory=True)
    (folder / "dangling.knit").symlink_to(outside / "new.knit")
    desk = Folder(folder)
    for path in ("link.knit", "way/secret.knit", "way/new.knit", "dangling.knit"):
        with pytest.raises(Refused):
            desk.open(path)
        with pytest.raises(Refused):
            desk.save(path, "mine", None)
    assert (outside / "secret.knit").read_text() == "secret"
    assert not (outside / "new.knit").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights on this system")
def test_a_link_within_the_folder_is_followed(folder: Path) -> None:
    (folder / "real.knit").write_text("Cowl")
    (folder / "link.knit").symlink_to(folder / "real.knit")
    desk = Folder(folder)
    there = desk.open("link.knit")
    desk.save("link.knit", "Cowl, longer", there.mark)
    assert (folder / "real.knit").read_text() == "Cowl, longer"
    assert (folder / "link.knit").is_symlink()


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"Cowl\r\nRow 1: Knit.\r\n", "Cowl\nRow 1: Knit.\n"),
        (b"\xef\xbb\xbfCowl\r\n", "Cowl\n"),
        ("Cowl: 5 \u00d7 10\n".encode("utf-16"), "Cowl: 5 \u00d7 10\n"),
        (b"Cowl\nRow 1: Knit.", "Cowl\nRow 1: Knit."),
    ],
)
def test_saving_what_was_opened_gives_the_same_bytes(
    folder: Path, data: bytes, text: str
) -> None:
    (folder / "cowl.knit").write_bytes(data)
    desk = Folder(folder)
    there = desk.open("cowl.knit")
    assert there.text == text
    assert there.mark == hashlib.sha256(data).hexdigest()
    saved = desk.save("cowl.knit", there.text, there.mark)
    assert (folder / "cowl.knit").read_bytes() == data
    assert saved.mark == there.mark


def test_a_file_changed_meanwhile_is_not_written_over(folder: Path) -> None:
    (folder / "cowl.knit").write_text("one")
    desk = Folder(folder)
    base = desk.open("cowl.knit").mark
    (folder / "cowl.knit").write_text("two")
    with pytest.raises(ChangedOnDisk) as changed:
        desk.save("cowl.knit", "mine", base)
    assert changed.value.now is not None and changed.value.now.text == "two"
    assert (folder / "cowl.knit").read_text() == "two"
    (folder / "cowl.knit").unlink()
    with pytest.raises(ChangedOnDisk) as gone:
        desk.save("cowl.knit", "mine", base)
    assert gone.value.now is None
    assert not (folder / "cowl.knit").exists()


def test_a_new_file_does_not_take_the_place_of_another(folder: Path) -> None:
    (folder / "cowl.knit").write_text("hers")
    with pytest.raises(ChangedOnDisk):
        Folder(folder).save("cowl", "mine", None)
    assert (folder / "cowl.knit").read_text() == "hers"


def test_only_patterns_are_written(folder: Path) -> None:
    desk = Folder(folder)
    for path in ("run.py", "run.sh", "page.html", "x.svg", "x.csv"):
        with pytest.raises(Refused):
            desk.save(path, "x", None)
    assert desk.save("new", "Cowl\n", None).path == "new.knit"
    assert sorted(one.name for one in folder.iterdir()) == ["new.knit"]


def test_what_cannot_be_text_is_refused(folder: Path) -> None:
    (folder / "a.knit").write_bytes(b"\xff\xd8\xff\xe0\0\0")
    (folder / "b.knit").write_bytes(b"x" * (MOST_FILE + 1))
    desk = Folder(folder)
    for path in ("a.knit", "b.knit", "none.knit"):
        with pytest.raises(Refused) as why:
            desk.open(path)
        assert "Traceback" not in str(why.value) and str(folder) not in str(why.value)
    with pytest.raises(Refused):
        desk.save("c.knit", "bad \ud800", None)
    with pytest.raises(Refused):
        desk.save("c.knit", "bad \0", None)


@pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="needs a user who can be refused"
)
def test_a_folder_that_may_not_be_written(folder: Path) -> None:
    folder.chmod(0o500)
    try:
        with pytest.raises(Refused) as why:
            Folder(folder).save("new.knit", "x", None)
        assert "may not" in str(why.value)
    finally:
        folder.chmod(0o700)


def test_the_list_of_files(folder: Path) -> None:
    for path in ("b.knit", "a.txt", "deep/c.knit", "deep/chart.csv", ".git/x.knit", "photo.jpg"):
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_text("x")
    assert [(one["path"], one["kind"]) for one in Folder(folder).files()] == [
        ("a.txt", "words"), ("b.knit", "words"), ("deep/c.knit", "words"),
        ("deep/chart.csv", "chart"),
    ]  # fmt: skip


# ------------------------------------------------------------------ kept aside


def kept(name: str, text: str = "words", when: float = 1.0, folder: str = "/f") -> Kept:
    return Kept(name, folder, "cowl.knit", text, "", "p-1", when)


def test_unsaved_text_is_kept_until_forgotten(state: Path) -> None:
    keeper = Keeper("/f", state)
    keeper.keep(kept("d-aaaaaa", "one"))
    keeper.keep(kept("d-aaaaaa", "two", 2.0))
    keeper.keep(kept("d-bbbbbb", "other", 3.0))
    Keeper("/g", state).keep(kept("d-cccccc", folder="/g"))
    assert [(one.name, one.text) for one in Keeper("/f", state).all()] == [
        ("d-bbbbbb", "other"), ("d-aaaaaa", "two"),
    ]  # fmt: skip
    keeper.forget("d-bbbbbb")
    keeper.forget("d-bbbbbb")
    assert [one.name for one in keeper.all()] == ["d-aaaaaa"]
    if sys.platform != "win32":
        assert (state / "d-aaaaaa.json").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("name", ["../x", "", "a", "d/../../x", "D-AAAAAA", "x" * 61])
def test_a_kept_text_has_a_proper_name(state: Path, name: str) -> None:
    with pytest.raises(CannotWrite):
        Keeper("/f", state).keep(kept(name))
    assert list(state.iterdir()) == []


def test_damaged_and_too_many_kept_texts(state: Path) -> None:
    (state / "d-damaged.json").write_text("{")
    (state / "d-strange.json").write_text('{"name": 3}')
    keeper = Keeper("/f", state)
    assert keeper.all() == []
    for number in range(MOST_KEPT + 5):
        keeper.keep(kept(f"d-{number:06}", when=float(number)))
        os.utime(state / f"d-{number:06}.json", (number, number))
    found = keeper.all()
    assert len(found) <= MOST_KEPT
    assert found[0].name == f"d-{MOST_KEPT + 4:06}"
