"""The panel of pictures without a browser: what is chosen, what comes in, what is refused, moved, removed, missing."""

import base64
import io
import os
import shutil
from pathlib import Path
from typing import Any

import pytest
from browser import TOP
from PIL import Image

from stagefloor.entry.after import service
from stagefloor.entry.gallery import SIDE
from stagefloor.entry.pictures import PicturePanel
from stagefloor.entry.session import Session
from stagefloor.job import edit, store
from stagefloor.job.pictures import HOMES, Picture


def photo(colour: str, form: str = "JPEG") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (1800, 1200), colour).save(out, form)
    return out.getvalue()


@pytest.fixture
def session(tmp_path: Path) -> Session:
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", tmp_path)
    store.transact(tmp_path, lambda j: edit.add(j, "holdpoint", [{"label": "Lids", "when": "finish"}])[0], "start")
    return Session(tmp_path)


def choose(panel: PicturePanel, kind: str, which: int = 1) -> str:
    """Choose a kind, and the record at that place of the list."""
    panel.kind.value = kind
    panel.which.value = panel.which.options[which][1]
    return str(panel.which.value)


def send(panel: PicturePanel, *files: tuple[str, bytes]) -> str:
    """Files as the browser sends them, each in two parts; the last sentence that comes back."""
    said: list[dict[str, Any]] = []
    panel.file.send = lambda message, buffers=None: said.append(message)
    for number, (name, data) in enumerate(files):
        first, last = number == 0, number == len(files) - 1
        panel.file._receive(None, {"do": "begin", "name": name, "first": first, "more": not last}, [])
        panel.file._receive(None, {"do": "part", "last": False}, [data[:1000]])
        panel.file._receive(None, {"do": "part", "last": True}, [data[1000:]])
    return str([m for m in said if m["do"] == "said"][-1]["say"])


def test_pictures_go_to_what_is_chosen_in_one_edit(session: Session) -> None:
    panel = PicturePanel(session, tuple(HOMES))
    box = choose(panel, "box")
    panel.caption.value, panel.audience.value = "Lid open", "client"
    before = len(store.edits(session.path))
    said = send(panel, ("a.jpg", photo("navy")), ("b.gif", b"GIF89a" + bytes(40)), ("c.png", photo("teal", "PNG")))
    assert said.startswith("2 pictures added to Floor box ")
    assert "b.gif is no JPEG or PNG picture" in said
    assert len(store.edits(session.path)) == before + 1
    assert [(p.on, p.to, p.label, p.audience) for p in session.job.all(Picture)] == [("box", box, "Lid open", "client")] * 2
    assert panel.which.options[1][0].endswith("(2)")
    assert [i["alt"].split(",")[0] for i in panel.gallery.items] == ["Lid open"] * 2
    small = Image.open(io.BytesIO(base64.b64decode(panel.gallery.items[0]["src"].split(",")[1])))
    assert max(small.size) == SIDE
    assert "there already" in send(panel, ("a.jpg", photo("navy")))
    panel.kind.value = "holdpoint"
    assert panel.gallery.items == []
    session.undo()
    assert session.job.all(Picture) == []


def test_nothing_is_added_before_it_is_chosen_what_to(session: Session) -> None:
    panel = PicturePanel(session, ("box",))
    assert panel.file.layout.display == "none"
    assert "Choose above" in send(panel, ("a.jpg", photo("navy")))
    assert session.job.all(Picture) == []
    assert not (session.path.parent / "pictures").exists()
    whole = PicturePanel(session, tuple(HOMES))  # here it can be the job itself
    assert send(whole, ("a.jpg", photo("navy"))).startswith("1 picture added to The job")


def test_a_folder_that_can_not_be_written_is_a_sentence(session: Session) -> None:
    (session.path.parent / "pictures").write_text("a file in the way")
    panel = PicturePanel(session, tuple(HOMES))
    assert "can't be written" in send(panel, ("a.jpg", photo("navy")))
    assert session.job.all(Picture) == []
    assert panel.gallery.items == []


def test_captioned_moved_removed_each_in_the_history(session: Session) -> None:
    panel = PicturePanel(session, tuple(HOMES))
    box = choose(panel, "box")
    send(panel, ("a.jpg", photo("navy")))
    (one,) = session.job.all(Picture)
    change = panel.table._change
    assert change({"do": "set", "changes": [[one.id, "label", "Lid"], [one.id, "audience", "crew"]]})["ok"]
    hold = session.job.tables["holdpoint"]
    answer = change({"do": "set", "changes": [[one.id, "place", f"holdpoint/{list(hold)[-1]}"]]})
    assert answer["ok"]
    assert answer["rows"] == panel.table.grid.rows == []  # it is with the hold point now
    assert store.edits(session.path)[-1].name == "Lid: belongs to Hold point Lids"
    assert session.job.get(Picture, one.id).on == "holdpoint"
    change({"do": "undo"})
    assert session.job.get(Picture, one.id).to == box
    bad = change({"do": "set", "changes": [[one.id, "place", "box/box-999"]]})
    assert (bad["ok"], "box-999" in bad["problems"][one.id]["place"]) == (False, True)
    for do in ({"do": "add"}, {"do": "duplicate", "rows": [one.id]}, {"do": "paste", "new_rows": [{"label": "x"}]}):
        assert "add the files above" in change(do)["say"]
    assert "Undo brings it back" in change({"do": "delete", "rows": [one.id]})["say"]
    assert (session.job.all(Picture), panel.gallery.items) == ([], [])
    change({"do": "undo"})
    assert panel.gallery.items[0]["src"]
    assert session.job.get(Picture, one.id).audience == "crew"


def test_a_file_that_is_gone_or_a_link_is_said_where_the_picture_was(session: Session, tmp_path: Path) -> None:
    panel = PicturePanel(session, tuple(HOMES))
    send(panel, ("a.jpg", photo("navy")))
    (one,) = session.job.all(Picture)
    file = session.path.parent / "pictures" / one.file
    secret = tmp_path / "secret"
    file.rename(secret)
    panel._refresh()
    assert "is not in the folder 'pictures'" in panel.gallery.items[0]["missing"]
    os.symlink(secret, file)
    panel._refresh()
    assert "leads elsewhere" in panel.gallery.items[0]["missing"]
    said: list[tuple[Any, Any]] = []
    panel.gallery.send = lambda message, buffers=None: said.append((message, buffers))
    panel.gallery._receive(None, {"do": "show", "id": one.id}, [])
    assert "leads elsewhere" in said[0][0]["say"]
    assert said[0][1] is None
    panel.gallery._receive(None, {"do": "show", "id": "../job"}, [])
    assert len(said) == 1
    file.unlink()
    secret.rename(file)
    panel.gallery._receive(None, {"do": "show", "id": one.id}, [])
    assert Image.open(io.BytesIO(said[1][1][0])).size == (1600, 1067)


def test_a_picture_of_a_deleted_record_asks_for_a_new_place(session: Session) -> None:
    panel = PicturePanel(session, tuple(HOMES))
    hold = choose(panel, "holdpoint")
    send(panel, ("a.jpg", photo("navy")))
    session.edit("gone", lambda j: edit.delete(j, "holdpoint", [hold]))
    panel.kind.value = ""
    (row,) = panel.table.grid.rows
    assert "not in the job any more" in row["problems"]["place"]
    assert panel.gallery.items[0]["about"].startswith("Hold point not there any more")


def test_the_call_years_later_shows_the_pictures(session: Session) -> None:
    panel = PicturePanel(session, ("box",))
    choose(panel, "box")
    send(panel, ("a.jpg", photo("navy")))
    ask, _, gallery = service(session).children
    ask.value = session.job.boxes()[0].label
    assert [i["id"] for i in gallery.items] == [p.id for p in session.job.all(Picture)]
    ask.value = "nothing of this name"
    assert gallery.items == []


def test_what_was_chosen_with_the_files_counts_however_long_they_travel(session: Session) -> None:
    """The pick list is changed while the file is on its way: a picture for the office must not be shown to the client."""
    panel = PicturePanel(session, tuple(HOMES))
    box = choose(panel, "box")
    panel.caption.value = "Lid open"
    said: list[dict[str, Any]] = []
    panel.file.send = lambda message, buffers=None: said.append(message)
    panel.file._receive(None, {"do": "begin", "name": "a.jpg", "first": True, "more": False}, [])
    choose(panel, "holdpoint")
    panel.caption.value, panel.audience.value = "Next one", "client"
    panel.file._receive(None, {"do": "part", "last": True}, [photo("navy")])
    assert said[-1]["say"].startswith("1 picture added to Floor box ")
    (one,) = session.job.all(Picture)
    assert (one.on, one.to, one.label, one.audience) == ("box", box, "Lid open", "office")
    assert panel.caption.value == "Next one"  # it is typed for the next picture
