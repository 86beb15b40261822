"""The checks on a finished folder are seen to find what they look for."""

import base64
import html
import json
import urllib.parse

import pytest

from stagefloor.package.checks import manifest_faults, page_faults, path_faults, search_bytes, write_manifest

WORD = "Margin 17.5 percent"
HIDING = {
    "plain": WORD.encode(),
    "other letter case": WORD.upper().encode(),
    "base64": base64.b64encode(b"xx" + WORD.encode()),
    "base64, shifted": b"q" + base64.b64encode(WORD.encode()),
    "base64 for addresses": base64.urlsafe_b64encode(b"\xfb\xff" + WORD.encode()),
    "base64 of base64": base64.b64encode(base64.b64encode(WORD.encode())),
    "base64 of UTF-16": base64.b64encode(WORD.encode("utf-16-le")),
    "HTML entities": "".join(f"&#{ord(c)};" for c in WORD).encode(),
    "UTF-16 le": WORD.encode("utf-16-le"),
    "UTF-16 be": b"x" + WORD.encode("utf-16-be"),
    "JSON": "".join(f"\\u{ord(c):04x}" for c in WORD).encode(),
    "CSS": "".join(f"\\{ord(c):x} " for c in WORD).encode(),
    "percent": urllib.parse.quote(WORD).encode(),
    "hexadecimal": WORD.encode().hex().encode(),
    "across tags": b"Mar<b>gin</b> <i>17.5</i>\n percent",
}


@pytest.mark.parametrize("how", HIDING)
def test_a_word_is_found_however_it_is_hidden(tmp_path, how):
    (tmp_path / "a.bin").write_bytes(b"<p>before</p> " + HIDING[how] + b" <p>after</p>")
    (tmp_path / "b.txt").write_text(html.escape(json.dumps({"other": "words"})))
    assert {h.file for h in search_bytes(tmp_path, [WORD])} == {"a.bin"}
    assert search_bytes(tmp_path, ["Margin 18.5 percent", " "]) == []


def test_a_word_in_a_file_name_is_found(tmp_path):
    (tmp_path / "margin 17.5 percent").mkdir()
    assert search_bytes(tmp_path, [WORD])[0].form == "file name"


GOOD = '<html><body id="top"><a href="b.html#x">b</a><a href="#top">t</a><p style="color:red">p</p></body></html>'


def one_page(folder, body):
    (folder / "a.html").write_text(body)
    (folder / "b.html").write_text('<p id="x">b</p>')
    return page_faults(folder)


def test_a_clean_page_has_no_fault(tmp_path):
    assert one_page(tmp_path, GOOD) == []


@pytest.mark.parametrize("bad", [
    "<script>1</script>", "<SCRIPT src=x>", "<a href='https://example.org'>x</a>", "<a href='//example.org'>x</a>",
    "<a href='file:///etc'>x</a>", "<a href='/etc'>x</a>", "<a href='javascript:x'>x</a>", "<a href='gone.html'>x</a>",
    "<a href='b.html#gone'>x</a>", "<img src='x.png'>", "<link rel=stylesheet href=b.html>", "<p onclick='x'>x</p>",
    "<meta http-equiv='Refresh' content='0'>", "<style>@import 'x';</style>", "<p style='background:url(x)'>x</p>",
    "<style>p{background:URL(http://x)}</style>", "<iframe></iframe>", "<form action=b.html></form>",
    "<p id='n'></p><p id='n'></p>", "<svg><use xlink:href='https://example.org#a'/></svg>",
])
def test_each_fault_is_found(tmp_path, bad):
    assert one_page(tmp_path, GOOD.replace("</body>", bad + "</body>")), bad


def test_a_folder_of_this_machine_is_found(tmp_path):
    (tmp_path / "a.html").write_text(f"<p>{tmp_path}/job.json</p>")
    assert path_faults(tmp_path, [tmp_path]) == ["a.html names a folder of this machine."]
    assert path_faults(tmp_path, [tmp_path / "other"]) == []


def test_manifest_tells_every_difference(tmp_path):
    for name in ("a", "b", "c"):
        (tmp_path / name).write_text(name)
    write_manifest(tmp_path, {"revision": "A"})
    assert manifest_faults(tmp_path) == []
    (tmp_path / "a").unlink()
    (tmp_path / "b").write_text("other")
    (tmp_path / "d").write_text("d")
    assert manifest_faults(tmp_path) == ["'d' was added", "'a' is missing", "'b' was changed"]


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"made_by": "someone else", "files": {}}', "\xff"])
def test_another_manifest_is_not_ours(tmp_path, content):
    (tmp_path / "manifest.json").write_text(content, encoding="latin-1")
    assert manifest_faults(tmp_path) == ["it has no manifest of a document set"]
