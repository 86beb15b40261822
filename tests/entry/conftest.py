"""A stand for the entry widgets (the real Python side, and a page with a model object in place of a lab), and one lab.

The lab takes long to start, so that all tests of the small job share it: each goes to its step first, and leaves the
job in a state that the others can bear.
"""

import copy
import json
import shutil

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser import PATIENCE, QUIET, TOP, find_chromium, live_lab, playwright
from playwright.sync_api import expect

from stagefloor.entry.grid import Grid
from stagefloor.entry.plan import Plan
from stagefloor.job import store
from stagefloor.job.boxes import Box
from stagefloor.job.edit import add, delete

# milliseconds; a build machine is slow, and what is wrong is seen all the same
expect.set_options(timeout=float(PATIENCE or 15_000))


@pytest.fixture(scope="session")
def job(tmp_path_factory):
    """The smallest demo job, in a folder with a name to stumble over; a box of it was deleted yesterday, by Ann."""
    folder = tmp_path_factory.mktemp("jobs") / "job in a folder, größer"
    folder.mkdir()
    shutil.copy(TOP / "demo_projects" / "one_box" / "job.json", folder)
    store.transact(folder, lambda j: add(j, "box", [{"label": "FB-OLD", "x": "3", "y": "4"}])[0], "FB-OLD placed")
    old = next(b for b in store.read(folder).job.all(Box) if b.label == "FB-OLD")
    store.transact(folder, lambda j: delete(j, "box", [old.id]), "FB-OLD deleted", "Ann")
    return folder


@pytest.fixture(scope="session")
def live(job):
    """The smallest demo job open in a browser."""
    with live_lab(job, step="inventory") as opened:
        opened.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        yield opened


ADDRESS = "http://localhost/stand"
PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Stand</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>body{margin:16px;background:#fff}</style></head>
<body><main><h1>Stand</h1><div id="here"></div></main></body></html>"""
MODEL = """
async ({esm, css, traits}) => {
  document.head.append(Object.assign(document.createElement("style"), {textContent: css}));
  const listeners = {};
  window.listen = (message, buffers) => (listeners["msg:custom"] || []).forEach((hear) => hear(message, buffers));
  window.model = {
    get: (key) => traits[key],
    set: (key, value) => {
      traits[key] = value;
      (listeners[`change:${key}`] || []).forEach((hear) => hear());
    },
    save_changes() {},
    on: (what, hear) => { (listeners[what] ??= []).push(hear); },
    off: (what, hear) => { listeners[what] = (listeners[what] || []).filter((one) => one !== hear); },
    send: (message) => { window.toPython(JSON.stringify(message)); },
  };
  const module = await import(URL.createObjectURL(new Blob([esm], {type: "text/javascript"})));
  const widget = typeof module.default === "function" ? module.default() : module.default;
  window.closeModel = widget.initialize?.({model});
  window.openView = (el) => widget.render({model, el});
  window.closeView = window.openView(document.getElementById("here"));
}
"""


class Stand:
    """One widget, live on both sides; `connected = False` is a line cut between them."""

    def __init__(self, page, widget):
        self.page, self.widget, self.connected, self.heard = page, widget, True, []
        widget.send = self.to_browser
        page.expose_function("toPython", self.to_python)

    def to_python(self, text):
        if self.connected:
            self.heard.append(json.loads(text))
            self.widget._receive(self.widget, json.loads(text), [])

    def to_browser(self, message, buffers=None):
        if self.connected:
            plain = [json.loads(json.dumps(message)), [list(one) for one in buffers or []]]
            self.page.evaluate(
                "([message, parts]) => { const buffers = parts.map((one) => new DataView(new Uint8Array(one).buffer));"
                " setTimeout(() => window.listen(message, buffers)); }",
                plain,
            )

    def open(self):
        # A local address, answered here: the clipboard and the tab's own storage need one.
        self.page.route(ADDRESS, lambda route: route.fulfill(body=PAGE, content_type="text/html"))
        self.load()
        return self

    def load(self):
        self.page.goto(ADDRESS)
        self.mount()

    def mount(self):
        widget = self.widget
        traits = {
            key: getattr(widget, key) for key in widget.trait_names(sync=True) if not key.startswith("_")
        }
        keep = {
            key: value
            for key, value in traits.items()
            if key not in ("layout", "comm", "tabbable", "tooltip")
        }
        self.page.evaluate(MODEL, {"esm": widget._esm, "css": widget._css, "traits": keep})

    def sent(self, what):
        return [message for message in self.heard if message["do"] == what]


@pytest.fixture(scope="module")  # not longer: one thread can drive only one at a time
def chromium():
    browser = playwright().chromium.launch(executable_path=find_chromium(), args=list(QUIET))
    yield browser
    browser.close()


@pytest.fixture
def stand(chromium):
    """A function that shows a widget on a page of its own and hands back the stand."""
    contexts, faults = [], []

    def show(widget, width=1440, height=900, touch=False):
        context = chromium.new_context(viewport={"width": width, "height": height}, has_touch=touch)
        context.grant_permissions(["clipboard-read", "clipboard-write"])
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.set_default_timeout(5000)
        return Stand(page, widget).open()

    yield show
    for context in contexts:
        context.close()
    assert faults == [], "faults in the browser"


@pytest.fixture
def no_serious_faults():
    """axe-core's own list of accessibility faults, serious and critical ones only."""

    def check(page):
        found = Axe().run(page).response["violations"]
        return [
            (one["id"], one["impact"], [node["html"][:120] for node in one["nodes"][:3]])
            for one in found
            if one["impact"] in ("serious", "critical")
        ]

    return check


COLUMNS = [
    {
        "key": "where",
        "label": "Connection point",
        "kind": "text",
        "hint": "the name the crew uses on the day",
    },
    {
        "key": "kind",
        "label": "Kind",
        "kind": "choice",
        "choices": [
            {"value": "mic", "label": "Microphone"},
            {"value": "spk", "label": "Loudspeaker"},
            {"value": "mains", "label": "Mains"},
        ],
    },
    {"key": "count", "label": "Count", "kind": "number", "hint": "a whole number, 1 to 99"},
    {
        "key": "left",
        "label": "From centre",
        "kind": "length",
        "unit": "ft",
        "hint": "for example 12' 6 1/2\" or 3.81 m",
    },
    {"key": "night", "label": "Every event", "kind": "flag"},
    {"key": "worked", "label": "With spare", "kind": "number", "readonly": True},
    {"key": "remark", "label": "Remark", "kind": "note"},
]


class Owner:
    """Stands for the job in these tests: keeps rows, refuses a count that is no number, can undo and redo."""

    def __init__(self, rows):
        self.rows = {row["id"]: row for row in rows}
        self.past, self.future, self.messages = [], [], []
        self.next = len(rows) + 1

    def on_change(self, message):
        self.messages.append(message)
        before, do = dict(self.rows), message["do"]
        problems = {}
        if do in ("undo", "redo"):
            source, other = (self.past, self.future) if do == "undo" else (self.future, self.past)
            if not source:
                return {"ok": False, "say": f"There is nothing to {do}."}
            other.append(before)
            self.rows = source.pop()
            return self.difference(before, problems)
        for row, key, text in message.get("changes", []):
            if sentence := self.fault(key, text):
                problems.setdefault(row, {})[key] = sentence
            else:
                self.write(row, key, text)
        new = message.get("new_rows", [message["cells"]] if do == "add" else [])
        if do == "duplicate":
            new = [self.rows[row]["cells"] for row in message["rows"]]
        after = message.get("after") or (message.get("rows") or [None])[-1]
        for cells in new:
            after = self.insert(cells, after, problems)
        if do == "delete":
            self.rows = {row: kept for row, kept in self.rows.items() if row not in message["rows"]}
        if self.rows != before:
            self.past.append(before)
            self.future.clear()
        return self.difference(before, problems)

    def fault(self, key, text):
        if key == "count" and text and not text.isdigit():
            return f"'{text}' is not a whole number. Type a count such as 2."
        return None

    def write(self, row, key, text):
        cells = {**self.rows[row]["cells"], key: text}
        if cells.get("count"):
            cells["worked"] = str(int(cells["count"]) + 1)
        self.rows = {**self.rows, row: {**self.rows[row], "cells": cells}}

    def insert(self, cells, after, problems):
        row, self.next = f"r{self.next}", self.next + 1
        listed = list(self.rows.items())
        at = list(self.rows).index(after) + 1 if after in self.rows else len(listed)
        self.rows = dict([*listed[:at], (row, {"id": row, "cells": {}}), *listed[at:]])
        for key, text in cells.items():
            if sentence := self.fault(key, text):
                problems.setdefault(row, {})[key] = sentence
            else:
                self.write(row, key, text)
        return row

    def difference(self, before, problems):
        return {
            "ok": not problems,
            "problems": problems,
            "order": list(self.rows),
            "rows": [row for key, row in self.rows.items() if before.get(key) != row],
            "removed": [key for key in before if key not in self.rows],
        }


def needs(count):
    """Invented rows of needs, as text."""
    spots = ["Drum riser", "Centre front", "Stage left wing", "Keys", "Choir row"]
    kinds = ["mic", "spk", "mains"]
    return [
        {
            "id": f"r{n + 1}",
            "cells": {
                "where": f"{spots[n % 5]} {n // 5 + 1}",
                "kind": kinds[n % 3],
                "count": str(n % 7 + 1),
                "left": f"{n % 20}' 6\"",
                "night": "yes" if n % 2 else "no",
                "worked": str(n % 7 + 2),
                "remark": "",
            },
            "marks": {"left": "assumed"} if n % 4 == 0 else {},
        }
        for n in range(count)
    ]


@pytest.fixture
def table():
    """A function that makes a grid with an owner behind it: (grid, owner)."""

    def make(count=5, **options):
        rows = needs(count)
        owner = Owner(rows)
        return Grid("Needs", COLUMNS, rows, owner.on_change, **options), owner

    return make


FEET = {"label": "ft", "per_metre": 1 / 0.3048, "format": "ft-in"}  # the international foot, 0.3048 m exactly
SCENE = {
    "extent": [-6.0, -1.6, 6.0, 7.6],
    "unit": FEET,
    "snap": 0.1524,
    "shapes": [
        {
            "id": "edge",
            "layer": "stage",
            "kind": "polygon",
            "role": "stage",
            "label": "Stage",
            "points": [[-5.5, 0], [-3, -1], [3, -1], [5.5, 0], [5.5, 7], [-5.5, 7]],
        },
        *(
            {
                "id": f"j{n}",
                "layer": "joists",
                "kind": "line",
                "role": "joist",
                "label": "",
                "points": [[-5.5 + 0.4 * n, 0], [-5.5 + 0.4 * n, 7]],
            }
            for n in range(1, 28)
        ),
        {
            "id": "beam",
            "layer": "joists",
            "kind": "line",
            "role": "bearing",
            "label": "Beam",
            "points": [[-5.5, 3.5], [5.5, 3.5]],
        },
        {
            "id": "keep",
            "layer": "paths",
            "kind": "rect",
            "role": "keep_clear",
            "label": "Keep clear",
            "points": [[-5.4, 5.6], [5.4, 6.6]],
        },
        {
            "id": "walk",
            "layer": "paths",
            "kind": "line",
            "role": "path",
            "label": "Piano path",
            "points": [[-5, 1.0], [4.5, 1.4]],
        },
        {
            "id": "reach1",
            "layer": "reach",
            "kind": "circle",
            "role": "reach",
            "label": "Reach 2 m",
            "center": [-2.8956, 0.9144],
            "radius": 2.0,
        },
        {
            "id": "cable1",
            "layer": "cables",
            "kind": "line",
            "role": "cable",
            "label": "",
            "points": [[-2.8956, 0.9144], [-1.5, 2.2]],
        },
        {
            "id": "run1",
            "layer": "cables",
            "kind": "line",
            "role": "raceway",
            "label": "Home run",
            "points": [[2.5, 2.0], [5.2, 2.0], [5.2, 6.9]],
        },
        {
            "id": "words",
            "layer": "stage",
            "kind": "text",
            "role": "note",
            "center": [0, -1.3],
            "text": "Orchestra rail",
        },
    ],
    "items": [
        {
            "id": "b1",
            "x": -2.8956,
            "y": 0.9144,
            "label": "FB-A1",
            "role": "floor_box",
            "size": [0.3, 0.25],
            "draggable": True,
            "note": "12 openings, 2 spare.",
            "state": "check",
        },
        {
            "id": "b2",
            "x": 2.5,
            "y": 2.0,
            "label": "FB-A2",
            "role": "floor_box",
            "size": [0.3, 0.25],
            "draggable": True,
            "state": "done",
        },
        {
            "id": "w1",
            "x": -5.3,
            "y": 4.0,
            "label": "WP-1",
            "role": "wall_panel",
            "size": [0.15, 0.4],
            "draggable": True,
        },
        {"id": "p1", "x": -1.5, "y": 2.2, "label": "Drums", "role": "point", "draggable": True},
        {"id": "n1", "x": 5.2, "y": 2.0, "label": "PP-1", "role": "node", "draggable": False},
        {
            "id": "k1",
            "x": 5.2,
            "y": 6.8,
            "label": "Rack",
            "role": "rack",
            "size": [0.6, 0.6],
            "draggable": False,
        },
        {
            "id": "m1",
            "x": -5.2,
            "y": 6.8,
            "label": "LP-1",
            "role": "panel",
            "size": [0.5, 0.3],
            "draggable": False,
            "state": "stop",
        },
    ],
    "layers": [
        {"key": key, "label": label, "on": True}
        for key, label in (
            ("stage", "Stage"),
            ("joists", "Joists"),
            ("paths", "Paths"),
            ("reach", "Reach"),
            ("cables", "Cables"),
        )
    ],
    "place": [{"role": "floor_box", "label": "Place floor box"}],
}


@pytest.fixture
def drawing():
    """A function that makes a plan: (plan, messages its owner got, answers to give by 'do')."""

    def make(**changes):
        messages, answers = [], {}

        def on_change(message):
            messages.append(message)
            answer = answers.get(message["do"], {"ok": True})
            return answer(message) if callable(answer) else answer

        return Plan("Floor boxes", {**copy.deepcopy(SCENE), **changes}, on_change), messages, answers

    return make
