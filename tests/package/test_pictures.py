"""Pictures in documents: those chosen for a reader are on his pages, those of others in no byte of them."""

import base64
import io
import random
import re
import shutil
from pathlib import Path

import pytest
from browser import TOP
from PIL import Image

from stagefloor.job import edit, store
from stagefloor.job.exchange.attaching import attached
from stagefloor.job.exchange.picture_file import CleanPicture, clean_picture
from stagefloor.job.exchange.picture_folder import FOLDER, put
from stagefloor.job.model import Job
from stagefloor.job.pictures import Picture
from stagefloor.package import build, extract_pictures
from stagefloor.package.build import build_from_file
from stagefloor.package.checks import page_faults, search_bytes
from stagefloor.package.extract_client import client_file
from stagefloor.package.extract_pictures import pictures_for
from stagefloor.readers.pictures import ShownPicture

COLOURS = {"office": (250, 10, 10), "crew": (10, 250, 10), "client": (10, 10, 250)}
INSIDE = ("ZofficeWq", "ZcrewWq", "ZpersonWq", "ZpunchWq")


def picture(colour: tuple[int, int, int]) -> CleanPicture:
    out = io.BytesIO()
    Image.new("RGB", (900, 600), colour).save(out, "JPEG")
    return clean_picture(out.getvalue())


def with_pictures(folder: Path) -> Job:
    """A job with one box, measured; for each reader a picture of it, and one at a hold point and an office punch item."""
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", folder)

    def change(job: Job) -> Job:
        box = job.boxes()[0].id
        job, _ = edit.add(job, "asbuilt", [{"box": box, "x": "1 m", "y": "1 m", "z": "0 m"}])
        job, (hold,) = edit.add(job, "holdpoint", [{"label": "Lids closed", "when": "finish"}])
        job, (punch,) = edit.add(job, "punch", [{"label": "ZpunchWq"}])
        for reader, colour in COLOURS.items():
            for on, to in (("box", box), ("holdpoint", hold), ("punch", punch)):
                plan = attached(job, [picture(colour)], on, to, caption=f"Z{reader}Wq", by="ZpersonWq", audience=reader)
                job = plan.job
                for name, data in plan.files.items():
                    put(folder / name, data)
        return job

    return store.transact(folder, change, "pictures")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("pictures")
    with_pictures(made)
    return made


def seen(folder: Path) -> list[str]:
    """Whose pictures are on the pages, by their colour, however they were made smaller."""
    found = []
    for page in sorted(folder.rglob("*.html")):
        for data in re.findall(r"base64,([A-Za-z0-9+/=]+)", page.read_text("utf-8")):
            colour = Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB").resize((1, 1)).getpixel((0, 0))
            found += [who for who, mine in COLOURS.items()
                      if all(abs(a - b) < 30 for a, b in zip(colour, mine, strict=True))]
    return found


@pytest.mark.parametrize("reader", ["client", "crew"])
def test_a_reader_sees_his_own_pictures_and_no_other(folder: Path, reader: str) -> None:
    built = build(folder, reader=reader).folder
    assert seen(built) == [reader] * 3
    others = [w for w in INSIDE if w != f"Z{reader}Wq"]
    assert search_bytes(built, others) == []
    page = (built / ("as_built.html" if reader == "client" else "boxes.html")).read_text("utf-8")
    assert search_bytes(built, [f"Z{reader}Wq"])
    title = store.read(folder).job.boxes()[0].title
    pictures = page[page.index("<h2>Pictures</h2>"):]
    assert re.findall(r"<h3>(.*?)</h3>", pictures)[0] == title
    assert pictures.count("<figure>") == 3
    assert len(page) < 1_000_000


def test_a_planted_leak_is_seen(folder: Path, tmp_path: Path) -> None:
    file, _ = client_file(folder)
    office = pictures_for(store.read(folder).job, folder, "client")[0][0].model_copy(
        update={"data": base64.b64encode(picture(COLOURS["office"]).data).decode()})
    built = build_from_file(file.model_copy(update={"pictures": (*file.pictures, office)}), tmp_path / "leak")
    assert "office" in seen(built.folder)


def test_many_heavy_pictures_stay_within_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(extract_pictures, "MOST_BYTES", 1_000_000)
    chance = random.Random(7)
    job = Job()
    for n in range(6):  # noise: as hard to store as can be
        out = io.BytesIO()
        Image.frombytes("RGB", (1000, 800), chance.randbytes(2_400_000)).save(out, "JPEG")
        plan = attached(job, [clean_picture(out.getvalue())], "job", "", audience="client", caption=f"no. {n}")
        job = plan.job
        for name, data in plan.files.items():
            put(tmp_path / name, data)
    shown, said = pictures_for(job, tmp_path, "client")
    assert len(shown) == 6
    assert said == []
    assert sum(len(base64.b64decode(p.data)) for p in shown) <= 1_000_000
    assert max(max(p.wide, p.high) for p in shown) < 800  # made smaller than few pictures would be
    monkeypatch.setattr(extract_pictures, "MOST_BYTES", 100_000)
    shown, (said,) = pictures_for(job, tmp_path, "client")
    assert 0 < len(shown) < 6
    assert f"{6 - len(shown)} of 6 pictures are not in the documents" in said


def test_what_can_not_be_shown_is_said_to_the_sender(tmp_path: Path) -> None:
    job = with_pictures(tmp_path)
    first = next(p for p in job.all(Picture) if p.audience == "client")
    (tmp_path / FOLDER / first.file).write_bytes(b"\xff\xd8\xff torn")
    job, _ = edit.add(job, "picture", [{"what": "sketch", "file": "0" * 24 + ".svg", "audience": "client"},
                                       {"file": "1" * 24 + ".jpg", "audience": "client", "on": "box", "to": "gone-1"}])
    shown, said = pictures_for(job, tmp_path, "client")
    assert shown == ()
    assert len([s for s in said if "damaged" in s]) == 3  # one file, three records
    assert any("only photos go" in s for s in said)
    assert any("not there any more" in s for s in said)


@pytest.mark.parametrize("tag", [
    '<img src="https://example.org/a.jpg" alt="a" width="1" height="1">', '<img src="a.jpg" alt="a" width="1" height="1">',
    '<img src="data:image/svg+xml;base64,AAAA" alt="a" width="1" height="1">',
    '<img src="data:image/jpeg;base64,AAAA" alt="" width="1" height="1">',
    '<img src="data:image/jpeg;base64,AAAA" alt="a" width="1" height="1" srcset="b.jpg">',
    '<img src="data:image/jpeg;base64,AAAA" alt="a" width="1" height="1" onerror="alert(1)">'])
def test_a_page_may_hold_no_other_picture(tmp_path: Path, tag: str) -> None:
    (tmp_path / "a.html").write_text(f"<!doctype html><html><body>{tag}</body></html>")
    assert any("<img>" in fault for fault in page_faults(tmp_path))
    (tmp_path / "a.html").write_text('<img src="data:image/jpeg;base64,AAAA" alt="a" width="1" height="1">')
    assert page_faults(tmp_path) == []


def test_data_of_a_picture_can_not_leave_its_place() -> None:
    with pytest.raises(ValueError, match="pattern"):
        ShownPicture(group="a", wide=1, high=1, data='"><script>alert(1)</script>')
