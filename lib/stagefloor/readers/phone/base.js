// What both sheets share: what is kept on this phone, and fields. Nothing is ever read as markup, nothing is fetched.

const given = JSON.parse(document.getElementById("given").textContent);
const kind = document.body.dataset.kind;
const here = document.getElementById("here");
const KEPT = `stagefloor-${kind}-${given.sheet}`;
const limits = given.limits; // what one file may hold to be taken in, and one sketch

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
let edits = 0; // since the page was opened
let fault = ""; // why the last export is not whole

function recall() {
  const empty = { phone: "", exported: 0, changed: false, light: false, by: "", instrument: "", next: 1, entries: [], pictures: [],
    sketches: [], drafts: {} };
  try {
    return { ...empty, ...JSON.parse(localStorage.getItem(KEPT) || "{}") };
  } catch {
    keeps = false;
    return empty;
  }
}

function keep(changed = true) {
  if (changed) {
    state.changed = true;
    edits += 1;
  }
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
  const all = Object.keys(state.drafts).length ? "All but what is not noted yet is exported." : "All of it is exported.";
  const words = fault || (!keeps
    ? "This browser keeps nothing: export before you close this page."
    : !state.changed
      ? state.exported
        ? all
        : "What you enter is kept on this phone."
      : state.exported
        ? "Kept on this phone; changed since the last export."
        : "Kept on this phone; not exported yet.");
  stateLine.classList.toggle("bad", fault !== "");
  if (stateLine.textContent !== words) stateLine.textContent = words;
}

const chance = () => crypto.getRandomValues(new Uint32Array(1))[0].toString(36);
const newName = (prefix) => `${prefix}.${state.next++}.${chance()}`;
const several = (number, one) => `${number} ${one}${number === 1 ? "" : "s"}`;

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

// --- drafts: what was typed and waits to be noted; kept like the rest, and filled in again

function drafted(name, control) {
  control.value = state.drafts[name]?.text || "";
  control.addEventListener("input", () => {
    if (control.value.trim()) state.drafts[name] = { text: control.value, at: location.hash.slice(1) };
    else delete state.drafts[name];
    keep(false);
  });
  return control;
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

// a press that can't be taken back is asked for twice, and a double tap is one press
function sure(words, ask, act) {
  let since = 0;
  let patience = 0;
  const calm = () => {
    clearTimeout(patience);
    since = 0;
    made.textContent = words;
    ask("");
  };
  const made = button(words, () => {
    if (since && Date.now() - since > 400) {
      calm();
      act();
    } else if (!since) {
      since = Date.now();
      made.textContent = `${words} for good`;
      ask(`Press '${words} for good' if you mean it.`);
      patience = setTimeout(calm, 8000);
    }
  });
  return made;
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

function start() {
  document.documentElement.classList.toggle("light", state.light);
  if (!state.phone) {
    state.phone = chance() + chance(); // two phones with this sheet are told apart by it
    keep(false);
  }
  sayState();
}
