// What both sheets share: what is kept on this phone, fields, the export. Nothing is ever read as markup, nothing is fetched.

const given = JSON.parse(document.getElementById("given").textContent);
const kind = document.body.dataset.kind;
const here = document.getElementById("here");
const KEPT = `stagefloor-${kind}-${given.sheet}`;

function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value !== null && value !== undefined && value !== false) made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined && child !== "")); // texts stay texts
  return made;
}

// --- what is kept: written at every keystroke, so that a closed tab loses nothing

let keeps = true; // whether this browser lets us keep anything
let state = recall();

function recall() {
  const empty = { exported: 0, changed: false, light: false, by: "", instrument: "", next: 1, entries: [], pictures: [], sketches: [] };
  try {
    return { ...empty, ...JSON.parse(localStorage.getItem(KEPT) || "{}") };
  } catch {
    keeps = false;
    return empty;
  }
}

function keep(changed = true) {
  if (changed) state.changed = true;
  try {
    localStorage.setItem(KEPT, JSON.stringify(state));
    keeps = true;
  } catch {
    keeps = false;
  }
  sayState();
}

// another tab with the same sheet wrote: show what is kept now
window.addEventListener("storage", (event) => {
  if (event.key === KEPT) location.reload();
});

const stateLine = el("p", { role: "status" });

function sayState() {
  const words = !keeps
    ? "This browser keeps nothing: export before you close this page."
    : !state.changed
      ? state.exported
        ? "All of it is exported."
        : "What you enter is kept on this phone."
      : state.exported
        ? "Kept on this phone; changed since the last export."
        : "Kept on this phone; not exported yet.";
  if (stateLine.textContent !== words) stateLine.textContent = words;
}

function newName(prefix) {
  const chance = crypto.getRandomValues(new Uint32Array(1))[0].toString(36);
  return `${prefix}.${state.next++}.${chance}`;
}

const today = () => {
  const now = new Date();
  const two = (number) => String(number).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
};

// --- entries: one for each record that was touched; `was` holds the texts that the workbook gave

function entryOf(id) {
  return state.entries.find((entry) => entry.id === id);
}

function valueOf(id, name, before = "") {
  const entry = entryOf(id);
  return entry && Object.hasOwn(entry.fields, name) ? entry.fields[name] : before;
}

// start: { on, to, fields, was } of an entry that is not there yet
function enter(id, start, name, text) {
  let entry = entryOf(id);
  if (!entry) {
    entry = { id, on: start.on, to: start.to || "", fields: { ...start.fields }, was: { ...(start.was || {}) } };
    state.entries.push(entry);
  }
  entry.fields[name] = text;
  keep();
}

// --- fields: a label above, 48 pixels high, the text as typed

let fieldNumber = 0;

function labelled(label, hint, control) {
  return el("label", { class: "line" }, el("span", {}, label), hint ? el("small", {}, hint) : null, control);
}

function textField(label, value, act, { hint = "", long = false, type = "text", placeholder = null, mode = null } = {}) {
  const control = long ? el("textarea", { rows: 3 }) : el("input", { type, autocomplete: "off", placeholder, inputmode: mode });
  control.value = value;
  control.maxLength = 3900;
  control.addEventListener("input", () => act(control.value));
  return labelled(label, hint, control);
}

function selectField(label, choices, value, act, hint = "") {
  const control = el("select", {}, ...choices.map((choice) => el("option", { value: choice }, choice || "not known")));
  control.value = value;
  control.addEventListener("change", () => act(control.value));
  return labelled(label, hint, control);
}

function choices(label, options, value, act) {
  const name = `choice${++fieldNumber}`;
  const row = el("div", { class: "choices" });
  options.forEach(([option, words], number) => {
    const control = el("input", { type: "radio", name, id: `${name}-${number}`, value: option });
    control.checked = option === value;
    control.addEventListener("change", () => act(option));
    row.append(el("span", {}, control, el("label", { for: control.id }, words)));
  });
  return el("fieldset", {}, el("legend", {}, label), row);
}

function tick(label, value, act) {
  const control = el("input", { type: "checkbox" });
  control.checked = value;
  control.addEventListener("change", () => act(control.checked));
  return el("label", { class: "tick" }, control, label);
}

function button(words, act, css = null) {
  return el("button", { type: "button", class: css, onclick: act }, words);
}

function folded(summary, ...parts) {
  return el("details", { class: "fold" }, el("summary", {}, summary), ...parts);
}

function cautions() {
  return el("div", { class: "caution" }, ...given.cautions.map((words) => el("p", {}, words)));
}

function lightButton() {
  const words = () => (state.light ? "Dark screen" : "Bright screen");
  const made = button(words(), () => {
    state.light = !state.light;
    keep(false);
    document.documentElement.classList.toggle("light", state.light);
    made.textContent = words();
  });
  return made;
}

// --- export: a file with everything that was entered so far, under the sheet's own names

// what names an entry or comes by itself is not yet something that was entered
const BY_ITSELF = ["topic", "circuit", "test", "box", "by", "date", "instrument"];

function entered() {
  return state.entries.filter((entry) =>
    Object.entries(entry.fields).some(([name, text]) =>
      entry.to || Object.keys(entry.was).length
        ? Object.hasOwn(entry.was, name) && text !== entry.was[name]
        : text && !BY_ITSELF.includes(name) && !(name === "looked" && text === given.states[0]) && !(name === "modified" && text === "no"),
    ),
  );
}

async function exportFile(finish = (entry) => entry) {
  const pictures = [];
  for (const { id, about, label } of state.pictures) {
    const photo = await photos.get(id);
    if (photo) pictures.push({ id, about, label, data: photo.slice(photo.indexOf(",") + 1) });
  }
  state.exported += 1;
  const file = {
    stagefloor_sheet: 1, kind, sheet: given.sheet, export: state.exported, by: state.by, date: today(),
    entries: entered().map(finish), pictures, sketches: state.sketches,
  };
  const name = `${kind}-${given.venue}`.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 40);
  const address = URL.createObjectURL(new Blob([JSON.stringify(file)], { type: "application/json" }));
  const link = el("a", { href: address, download: `${name}-${given.sheet.slice(0, 4)}-${state.exported}.json` });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
  state.changed = false;
  keep(false);
  return file;
}

function start() {
  document.documentElement.classList.toggle("light", state.light);
  sayState();
}
