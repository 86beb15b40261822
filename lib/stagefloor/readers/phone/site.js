// The site sheet: find a line, see what to expect, enter readings, lengths, places and problems.

const judged = { above: "above the limit", below: "below the limit", fits: "fits this line" };

// --- readings: one entry each; a retest is a new one

const slug = (words) => words.toLowerCase().replace(/[^a-z0-9]+/g, "-");
const readingId = (line, test, number) => `${line.id}:${slug(test.test)}:${number}`;
const readings = (line, test) => state.entries.filter(({ id }) => id.startsWith(`${line.id}:${slug(test.test)}:`));
const isDone = (line, test) => readings(line, test).some(({ fields }) => fields.result || fields.value) || test.before.length > 0;

const OVER = new RegExp(given.over, "i");

// A reading as typed, in the unit of the test; null if this page can't say (the workbook reads more)
function figure(text, unit) {
  if (/^\s*[+-]?\d{1,3},\d{3}\s*$/.test(text)) return null; // thousands, or a decimal comma
  const found = /^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(\S*)\s*$/.exec(text);
  if (!found) return null;
  const units = given.units[unit] || {};
  if (found[2] !== "" && !Object.hasOwn(units, found[2])) return null;
  return Number(found[1].replace(",", ".")) * (found[2] === "" ? 1 : units[found[2]]);
}

function judge(test, text, result = "") {
  if (result === "over range" || OVER.test(text.trim()))
    return test.high === null ? ["", "Over range: more than the meter can show."] : ["bad", `over range, ${judged.above}: ${test.limit}`];
  if (!text.trim()) return ["", ""];
  const value = figure(text, test.unit);
  if (value === null) return ["", "This figure can't be read here; the workbook will say how it reads it."];
  if (test.low === null && test.high === null) return ["", ""];
  if (test.high !== null && value > test.high) return ["bad", `${judged.above}: ${test.limit}`];
  if (test.low !== null && value < test.low) return ["bad", `${test.below || judged.below}: ${test.limit}`];
  return ["good", `${judged.fits}: ${test.limit}`];
}

function testCard(line, test, redraw) {
  const said = el("p", { class: "said", role: "status" });
  const list = readings(line, test);
  const number = Math.max(1, list.length);
  const id = readingId(line, test, number);
  const start = { on: "reading", fields: { circuit: line.id, test: test.test, result: "", value: "", instrument: "", by: "", date: "" } };
  const set = (name, text) => {
    enter(id, start, name, text);
    for (const [field, words] of [["by", state.by], ["instrument", state.instrument], ["date", today()]])
      if (!valueOf(id, field)) enter(id, start, field, words);
    again.hidden = false;
  };
  const show = () => {
    const [css, words] = judge(test, valueOf(id, "value"), valueOf(id, "result"));
    said.className = `said ${css}`;
    said.textContent = words && words[0].toUpperCase() + words.slice(1) + (css ? "." : "");
  };
  const again = el("div", { class: "buttons" }, button("Test again", () => {
    enter(readingId(line, test, readings(line, test).length + 1), start, "result", "");
    redraw();
  }));
  const value = valueOf(id, "value");
  again.hidden = !valueOf(id, "result") && !value;
  show();
  const earlier = [...test.before, ...list.slice(0, -1).map(({ fields }) => `${fields.value} ${fields.result} ${fields.date}`.trim())];
  return el("section", { class: "card" },
    el("h2", {}, test.shown[0].toUpperCase() + test.shown.slice(1)),
    test.expected || test.limit
      ? el("p", {}, [test.expected ? `Expect about ${test.expected}` : "", test.limit ? `limit: ${test.limit}` : ""].filter(Boolean).join("; "), ".")
      : null,
    test.method ? el("p", { class: "soft" }, test.method) : null,
    earlier.length ? el("p", { class: "soft" }, `Earlier: ${earlier.join("; ")}`) : null,
    test.unit
      ? textField(`Reading, ${test.unit}`, value, (text) => {
          set("value", text);
          show();
        }, { mode: "decimal" })
      : null,
    said,
    choices("Result", [["pass", "Pass"], ["fail", "Fail"], ...(test.unit ? [["over range", "Over range"]] : [])], valueOf(id, "result"),
      (word) => {
        set("result", word);
        show();
      }),
    again);
}

// --- problems: each becomes a line of the punch list

function problemField(about) {
  const shown = el("ul");
  const draw = () => {
    shown.replaceChildren(...problems(about).map(({ fields }) => el("li", {}, fields.label)));
    shown.hidden = !shown.children.length;
  };
  const words = drafted(`problem:${about}`, el("textarea", { rows: 2, "aria-label": `What is wrong: ${about}`, maxlength: 1000 }));
  draw();
  return el("section", { class: "card" }, el("h2", {}, "Problem"), shown, words, el("div", { class: "buttons" },
    button("Note this problem", () => {
      const text = words.value.trim();
      if (!text) return words.focus();
      delete state.drafts[`problem:${about}`];
      enter(newName("punch"), { on: "punch", fields: { label: "" } }, "label", about === GENERAL ? text : `${about}: ${text}`);
      words.value = "";
      draw();
    })), pictureField(about));
}

const GENERAL = "The site";
const problems = (about) =>
  state.entries.filter(({ on, fields }) => on === "punch" && (about === GENERAL || fields.label.startsWith(`${about}: `)));

// --- views, one for each address behind the '#', so that the phone's own 'back' works

const facts = (...pairs) =>
  el("dl", {}, ...pairs.filter(([, value]) => value).map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, value))));

const back = (view, words) => button(`‹ ${words}`, () => go(view));

let wanted = ""; // what was typed to find a line

function lineMark(line) {
  const bad = problems(`Line ${line.label}`).length ||
    line.tests.some((test) => readings(line, test).some(({ fields }) => fields.result === "fail" || judge(test, fields.value, fields.result)[0] === "bad"));
  const done = line.tests.filter((test) => isDone(line, test)).length;
  const whole = line.tests.length && done === line.tests.length;
  return el("span", { class: `state ${bad ? "bad" : whole ? "done" : ""}` }, bad ? "problem" : line.tests.length ? `${done} of ${line.tests.length} tests` : "no test");
}

function linesView() {
  const list = el("div");
  const count = el("p", { class: "soft", role: "status" });
  const find = el("input", { type: "search", "aria-label": "Find a line by its label, kind or box", placeholder: "Label, kind or box",
    autocomplete: "off", autocapitalize: "off", spellcheck: "false" });
  find.value = wanted;
  const draw = () => {
    wanted = find.value;
    const words = wanted.toLowerCase().split(/\s+/).filter(Boolean);
    const found = given.lines.filter((line) => {
      const text = `${line.label} ${line.kind} ${line.starts} ${line.ends}`.toLowerCase();
      return words.every((word) => text.includes(word));
    });
    count.textContent = found.length ? `${found.length} of ${given.lines.length} lines` : `No line fits '${wanted}'. Type part of its label.`;
    list.replaceChildren(...found.map((line) =>
      el("button", { type: "button", class: "row", onclick: () => go(`line/${line.id}`) },
        el("span", {}, el("b", {}, line.label), el("small", {}, `${line.kind}, ${line.starts.split(", ")[0]}`)), lineMark(line))));
  };
  find.addEventListener("input", draw);
  draw();
  return [
    el("h1", {}, given.venue),
    el("p", { class: "soft" }, `Site sheet for ${given.crew}, ${given.made}. Works without a network.`),
    state.by ? null : el("div", { class: "card" }, ...whoFields()),
    find, count, list,
  ];
}

function lineView(id) {
  const line = given.lines.find((one) => one.id === id);
  if (!line) return linesView();
  const lengthId = `length:${line.id}`;
  return [
    back("lines", "All lines"),
    el("h1", {}, `Line ${line.label}`),
    facts(["Kind", line.kind], ["Starts", line.starts], ["Ends", line.ends], ["Cable", line.cable], ["Way", line.way],
      ["Length", line.length], ["Old line", line.reused]),
    line.by_electrician
      ? el("div", { class: "caution" }, el("p", {}, "Power: only the licensed electrician opens and tests it. Enter only that it was done, and by whom."))
      : null,
    ...line.tests.map((test) => testCard(line, test, show)),
    el("section", { class: "card" }, el("h2", {}, "Length as built"),
      textField("Measured length", valueOf(lengthId, "typed_length", line.measured),
        (text) => enter(lengthId, { on: "length", fields: { circuit: line.id }, was: { typed_length: line.measured } }, "typed_length", text),
        { hint: given.unit === "ft" ? "for example 52' 6\"; a bare number is feet" : "for example 16.2 m; a bare number is in m" })),
    problemField(`Line ${line.label}`),
  ];
}

function boxesView() {
  return [
    el("h1", {}, "Floor boxes and panels"),
    ...given.boxes.map((box) => el("button", { type: "button", class: "row", onclick: () => go(`box/${box.id}`) },
      el("span", {}, el("b", {}, box.title), el("small", {}, box.place)),
      el("span", { class: `state ${entryOf(`built:${box.id}`) || box.built_x ? "done" : ""}` },
        entryOf(`built:${box.id}`) || box.built_x ? "measured" : "not measured"))),
    given.boxes.length ? null : el("p", {}, "No floor box is on this sheet."),
  ];
}

function boxView(id) {
  const box = given.boxes.find((one) => one.id === id);
  if (!box) return boxesView();
  const was = { x: box.built_x, y: box.built_y, z: box.built_z, modified: box.modified ? "yes" : "no", note_text: box.built_note };
  const start = { on: "asbuilt", to: box.built_id, fields: { box: box.id, ...was, by: "", date: "" }, was: box.built_id ? was : {} };
  const entry = `built:${box.id}`;
  const set = (name, text) => {
    enter(entry, start, name, text);
    enter(entry, start, "date", today());
    if (state.by) enter(entry, start, "by", state.by);
  };
  const measure = (name, label, planned) =>
    textField(label, valueOf(entry, name, was[name]), (text) => set(name, text), { hint: planned ? `planned: ${planned}` : "" });
  return [
    back("boxes", "All boxes"),
    el("h1", {}, box.title),
    facts(["Planned place", box.place], ["Note", box.note]),
    box.openings.length ? folded("What is in it", el("ul", {}, ...box.openings.map((words) => el("li", {}, words)))) : null,
    el("section", { class: "card" }, el("h2", {}, "As built"),
      el("p", { class: "soft" }, `To the middle of the cutout${given.origin ? `, from ${given.origin}` : ""}. Stage left and upstage are plus.`),
      measure("x", "Across", box.x), measure("y", "Up", box.y), measure("z", "Height", box.z),
      tick("Enclosure was drilled or trimmed: ask its maker or the inspector", valueOf(entry, "modified", was.modified) === "yes",
        (yes) => set("modified", yes ? "yes" : "no")),
      textField("What is different", valueOf(entry, "note_text", was.note_text), (text) => set("note_text", text), { long: true })),
    problemField(box.title),
  ];
}

function problemsView() {
  const known = given.punch.map(({ label, owner, due, closed }) =>
    el("li", {}, label, el("small", {}, [owner, due && `due ${due}`, closed && `closed ${closed}`].filter(Boolean).map((x) => ` · ${x}`).join(""))));
  return [
    el("h1", {}, "Problems"),
    known.length ? folded(`${known.length} in the punch list already`, el("ul", {}, ...known)) : null,
    problemField(GENERAL),
    ...(given.remarks.length ? [el("h2", {}, "Remarks for the crew"), el("ul", {}, ...given.remarks.map((words) => el("li", {}, words)))] : []),
  ];
}

function whoFields() {
  const set = (name) => (text) => {
    state[name] = text;
    keep(false);
  };
  return [textField("Your name", state.by, set("by")), textField("Instrument", state.instrument, set("instrument"), { hint: "name or number of the tester" })];
}

function exportView() {
  const count = (on, one, many) => {
    const found = entered().filter((entry) => entry.on === on).length;
    return found ? `${found} ${found === 1 ? one : many}` : "";
  };
  const words = () => [count("reading", "reading", "readings"), count("length", "length", "lengths"), count("asbuilt", "box as built", "boxes as built"),
    count("punch", "problem", "problems"), state.pictures.length ? several(state.pictures.length, "photo") : ""].filter(Boolean).join(", ") || "Nothing yet";
  const finish = (entry) => ("by" in entry.fields && !entry.fields.by ? { ...entry, fields: { ...entry.fields, by: state.by } } : entry);
  const drafts = Object.entries(state.drafts);
  const files = el("div");
  return [
    el("h1", {}, "Export"),
    el("div", { class: "card" }, ...whoFields()),
    el("p", {}, `Entered on this phone: ${words()}.`),
    drafts.length
      ? el("div", { class: "card" }, el("p", { class: "said bad" }, `${several(drafts.length, "problem")} typed and not noted yet: not in the file.`),
          el("div", { class: "buttons" }, ...drafts.map(([name, { at }]) => button(name.replace("problem:", ""), () => go(at)))))
      : null,
    el("p", {}, "Export makes one file with everything so far. Send it to whoever keeps the job; in the step Closeout it is taken in. " +
      "Export as often as you like: nothing is doubled."),
    el("div", { class: "buttons" }, button("Export", () => exportFile(files, finish), "main"), lightButton()),
    files,
    el("h2", {}, "Before you work"), cautions(),
  ];
}

const VIEWS = { lines: linesView, line: lineView, boxes: boxesView, box: boxView, problems: problemsView, export: exportView };
const TABS = [["lines", "Lines"], ["boxes", "Boxes"], ["problems", "Problems"], ["export", "Export"]];
const tabs = TABS.map(([view, words]) => button(words, () => go(view)));
let shownBefore = null;

function go(view) {
  location.hash = view;
}

function show() {
  const address = decodeURIComponent(location.hash.slice(1)) || "lines";
  const [view, ...rest] = address.split("/");
  const tab = { line: "lines", box: "boxes" }[view] || view;
  here.replaceChildren(...(Object.hasOwn(VIEWS, view) ? VIEWS[view] : linesView)(rest.join("/")).filter(Boolean));
  tabs.forEach((one, number) => (TABS[number][0] === tab ? one.setAttribute("aria-current", "page") : one.removeAttribute("aria-current")));
  if (shownBefore !== null && shownBefore !== address) {
    window.scrollTo(0, 0);
    const head = here.querySelector("h1");
    head.tabIndex = -1;
    head.focus({ preventScroll: true });
  }
  shownBefore = address;
}

window.addEventListener("hashchange", show);
document.body.append(el("nav", { class: "bar", "aria-label": "Parts of the sheet" }, stateLine, el("div", {}, ...tabs)));
show();
start();
