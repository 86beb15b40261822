"""Looks at a finished folder from outside: every byte of it, as a stranger would. Knows only files."""

import base64
import binascii
import hashlib
import html
import json
import re
import urllib.parse
from collections.abc import Iterable
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

MANIFEST = "manifest.json"
MADE_BY = "stagefloor document set"
LINKING = {"href", "src", "srcset", "action", "formaction", "data", "poster", "background", "ping", "cite", "manifest",
           "xlink:href"}
FORBIDDEN_TAGS = {"script", "iframe", "object", "embed", "link", "base", "form", "video", "audio", "source",
                  "frame", "frameset", "applet", "portal"}

PICTURE = {"alt", "src", "width", "height"}  # all that an <img> may say
INSIDE = re.compile(r"data:image/jpeg;base64,[A-Za-z0-9+/]+={0,2}")


@dataclass(frozen=True)
class Hit:
    """A word that was found: in which file, and in which form it was hidden."""

    file: str
    word: str
    form: str


class _Page(HTMLParser):
    """Collects what a page would load, run or link to."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.links: list[str] = []
        self.faults: list[str] = []
        self.ids: list[str] = []
        self._style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in FORBIDDEN_TAGS:
            self.faults.append(f"has a <{tag}>")
        self._style = tag == "style"
        values = {name: value or "" for name, value in attrs}
        if tag == "img":
            if set(values) != PICTURE or not values["alt"] or not INSIDE.fullmatch(values["src"]):
                self.faults.append("has an <img> that is no picture inside the page with a text in its place")
            return
        if tag == "meta" and values.get("http-equiv", "").lower() == "refresh":
            self.faults.append("sends the reader on by itself")
        for name, value in values.items():
            if name.startswith("on"):
                self.faults.append(f"has a script in '{name}'")
            if name in LINKING:
                self.links.append(value)
            if name == "id":
                self.ids.append(value)
            if name not in LINKING and "url(" in value.lower() and not re.fullmatch(r"url\(#\w+\)", value):
                self.faults.append(f"loads something in '{name}'")

    def handle_data(self, data: str) -> None:
        if self._style:
            found = re.search(r"@import|url\(|expression\(|-moz-binding", data, re.IGNORECASE)
            if found:
                self.faults.append(f"loads something in its style sheet ({found[0]})")

    def handle_endtag(self, tag: str) -> None:
        if tag == "style":
            self._style = False


def page_faults(folder: Path) -> list[str]:
    """A sentence for each thing on a page that would run, load or lead outside the folder."""
    faults = []
    pages = {p.relative_to(folder).as_posix(): p.read_text(encoding="utf-8") for p in sorted(folder.rglob("*.html"))}
    parsed = {}
    for name, text in pages.items():
        parsed[name] = _Page()
        parsed[name].feed(text)
        parsed[name].close()
    for name, page in parsed.items():
        faults += [f"{name} {fault}." for fault in page.faults]
        faults += [f"{name} uses the name '{i}' twice." for i in sorted({i for i in page.ids if page.ids.count(i) > 1})]
        for link in page.links:
            target, _, place = link.partition("#")
            if re.match(r"^\s*(?:[a-z][a-z0-9+.-]*:|//|\\\\|/)", target, re.IGNORECASE):
                faults.append(f"{name} leads outside the folder: {link[:80]}.")
            elif (target or name) not in pages:
                faults.append(f"{name} leads to '{target}', which is not there.")
            elif place and place not in parsed[target or name].ids:
                faults.append(f"{name} leads to '{link}', but there is no such place on that page.")
    return faults


def path_faults(folder: Path, paths: Iterable[Path]) -> list[str]:
    """A sentence for each file that names a folder of this machine."""
    words = [p for path in paths for p in {str(path), path.as_posix()} if len(p) > 4]
    found = sorted({hit.file for hit in search_bytes(folder, words, deep=False)})
    return [f"{name} names a folder of this machine." for name in found]


def write_manifest(folder: Path, about: dict[str, str]) -> None:
    """Write the list of files with the SHA-256 digest of each, and what the set is."""
    content = {"made_by": MADE_BY, **about, "files": digests(folder)}
    (folder / MANIFEST).write_text(json.dumps(content, indent=1, sort_keys=True) + "\n", encoding="utf-8")


LEFT_BY_SYSTEMS = (".DS_Store", "desktop.ini", "Thumbs.db")  # by a look into the folder


def digests(folder: Path) -> dict[str, str]:
    """SHA-256 of every file but the manifest and what the system left there, by its path in the folder."""
    files = [p for p in sorted(folder.rglob("*")) if p.is_file() and p.name not in LEFT_BY_SYSTEMS]
    found = {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}
    found.pop(MANIFEST, None)
    return found


def manifest_faults(folder: Path) -> list[str]:
    """What differs between a folder and its manifest; a folder without one of ours is not ours."""
    try:
        content = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        listed = content["files"] if content["made_by"] == MADE_BY else None
    except (OSError, ValueError, KeyError, TypeError):
        listed = None
    if not isinstance(listed, dict):
        return ["it has no manifest of a document set"]
    found = digests(folder)
    return ([f"'{n}' was added" for n in found if n not in listed]
            + [f"'{n}' is missing" for n in listed if n not in found]
            + [f"'{n}' was changed" for n in found if n in listed and listed[n] != found[n]])


def search_bytes(folder: Path, words: Iterable[str], deep: bool = True) -> list[Hit]:
    """Every word that can be found in any file or file name, plain or in a common encoding.

    Looks for the words, letter case ignored, in the plain text, across tags, with HTML entities, JSON, CSS and
    percent escapes undone, as UTF-16, and if `deep` in hexadecimal and in base64 runs, two layers of them.
    """
    wanted = sorted({w for w in words if w.strip()})
    hits: set[tuple[str, str, str]] = set()
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        forms = [("file name", name)] + (_forms(path.read_bytes(), 0 if deep else 2) if path.is_file() else [])
        for form, text in forms:
            low = text.casefold()
            hits |= {(name, word, form) for word in wanted if word.casefold() in low}
    return [Hit(*h) for h in sorted(hits)]


def _forms(data: bytes, depth: int = 0) -> list[tuple[str, str]]:
    """The bytes read in each way that might show a word."""
    plain = data.decode("utf-8", errors="replace")
    found = [("plain", plain)]
    if b"\0" in data:
        found += [(f"UTF-16 {order}", data[shift:].decode(f"utf-16-{order}", errors="replace"))
                  for order in ("le", "be") for shift in (0, 1)]
    undone = html.unescape(plain)
    found += [("HTML entities", undone), ("across tags", re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", undone))),
              ("percent escapes", urllib.parse.unquote(plain)),
              ("JSON escapes", re.sub(r"\\u([0-9a-fA-F]{4})", lambda m: chr(int(m[1], 16)), plain)),
              ("CSS escapes", re.sub(r"\\([0-9a-fA-F]{6}|[0-9a-fA-F]{1,5}\s?)", _css_char, plain))]
    if depth < 2:
        for run in set(re.findall(rb"(?:[0-9a-fA-F]{2}){4,}", data)):
            found += [(f"hexadecimal, {form}", text) for form, text in _forms(bytes.fromhex(run.decode()), depth + 1)]
        for run in set(re.findall(rb"[A-Za-z0-9+/_-]{8,}={0,2}", data)):
            body = run.rstrip(b"=").replace(b"-", b"+").replace(b"_", b"/")
            for start in range(4):
                part = body[start:]
                part = part[:len(part) - (len(part) % 4 == 1)]
                try:
                    decoded = base64.b64decode(part + b"=" * (-len(part) % 4))
                except (binascii.Error, ValueError):
                    continue
                found += [(f"base64, {form}", text) for form, text in _forms(decoded, depth + 1)
                          if depth == 0 or form in ("plain", "UTF-16 le", "UTF-16 be")]
    return found


def _css_char(match: re.Match[str]) -> str:
    code = int(match[1].strip(), 16)
    return chr(code) if 0 < code < 0x110000 else match[0]
