// The survey sheet: topics to look at with the fields asked with each, questions, and what else was seen.

const LOOKED = given.states; // not looked at, looked, could not be found out
const changed = []; // what to refresh when an answer changes

// One subject: looked at or not, what was found, evidence, photos. `entry`: { id, on, to, fields, was }.
function subject(title, entry, before, { fields = [], rows = null, open = false } = {}) {
  const mark = el("span", { class: "state" });
  const value = (name) => valueOf(entry.id, name, before[name] || "");
  const set = (name, text) => {
    enter(entry.id, entry, name, text);
    // whoever enters something says who and when by it; a first word means that it was looked at
    enter(entry.id, entry, "date", today());
    if (state.by) enter(entry.id, entry, "by", state.by);
    if (name !== "looked" && text && value("looked") === LOOKED[0]) {
      enter(entry.id, entry, "looked", LOOKED[1]);
      answer.querySelectorAll("input")[1].checked = true;
    }
    refresh();
  };
  const refresh = () => {
    const looked = value("looked") || LOOKED[0];
    mark.textContent = looked;
    mark.classList.toggle("done", looked === LOOKED[1]);
    changed.forEach((tell) => tell());
  };
  const answer = choices("Looked at?", LOOKED.map((word) => [word, word[0].toUpperCase() + word.slice(1)]),
    value("looked") || LOOKED[0], (word) => set("looked", word));
  const seen = () => {
    if (value("looked") === LOOKED[0]) set("looked", LOOKED[1]);
    answer.querySelectorAll("input")[LOOKED.indexOf(value("looked"))].checked = true;
  };
  const body = el("div", { class: "body" },
    answer,
    ...fields.map((field) => settingField(field, seen)),
    rows ? rowList(rows, seen) : null,
    textField("What was found", value("found"), (text) => set("found", text), { long: true }),
    textField("Evidence", value("evidence"), (text) => set("evidence", text), { hint: "drawing or report number" }),
    pictureField(title, { sketches: true }));
  const made = el("details", { class: "topic", open }, el("summary", {}, el("span", {}, title), mark), body);
  refresh();
  return { made, value };
}

function settingField({ name, label, hint, choices: options, value }, seen) {
  const id = `settings.${name}`;
  const entry = { on: "settings", to: "job", fields: {}, was: { [name]: value } };
  const act = (text) => {
    enter(id, entry, name, text);
    seen();
  };
  const now = valueOf(id, name, value);
  return options.length ? selectField(label, options, now, act, hint) : textField(label, now, act, { hint });
}

// Things of one kind, such as floor layers: those that the workbook has, and more
function rowList({ kind: on, noun, fields, rows }, seen) {
  const list = el("div");
  const card = (id, to, was) => {
    const start = { on, to, fields: Object.fromEntries(fields.map(({ name }) => [name, was[name] || ""])), was: to ? was : {} };
    const parts = fields.map(({ name, label, hint, choices: options }) => {
      const act = (text) => {
        enter(id, start, name, text);
        seen();
      };
      const now = valueOf(id, name, was[name] || "");
      return options.length ? selectField(label, options, now, act, hint) : textField(label, now, act, { hint });
    });
    return el("div", { class: "card", role: "group", "aria-label": noun }, ...parts);
  };
  rows.forEach(({ id, values }) => list.append(card(`${on}:${id}`, id, values)));
  state.entries.filter((entry) => entry.on === on && !entry.to).forEach((entry) => list.append(card(entry.id, "", {})));
  return el("div", {}, list, el("div", { class: "buttons" }, button(`Add a ${noun}`, () => {
    list.append(card(newName(on), "", {}));
    list.lastChild.querySelector("input, select").focus();
  })));
}

function survey() {
  const topics = given.topics.map((topic, number) => {
    const before = Object.fromEntries(["looked", "found", "evidence", "by", "date"].map((name) => [name, topic[name]]));
    const entry = topic.id
      ? { id: topic.id, on: "survey", to: topic.id, fields: { ...before }, was: { ...before } }
      : { id: `topic.${number}`, on: "survey", to: "", fields: { topic: topic.topic, looked: LOOKED[0] } };
    return subject(topic.topic, entry, before, topic);
  });
  const asked = given.questions.map(({ id, words }) =>
    subject(words, { id, on: "survey", to: "", fields: { topic: words, looked: LOOKED[0] } }, {}));
  const more = el("div");
  const addMore = (id, title, open) =>
    more.append(subject(title, { id, on: "survey", to: "", fields: { topic: title, looked: LOOKED[1] } }, {}, { open }).made);
  state.entries.filter(({ id }) => id.startsWith("more.")).forEach(({ id, fields }) => addMore(id, fields.topic, false));

  const count = el("p", { class: "soft", role: "status" });
  const refresh = () => {
    const done = topics.filter(({ value }, number) => mine(number) && (value("looked") || LOOKED[0]) !== LOOKED[0]).length;
    const answered = asked.filter(({ value }) => (value("looked") || LOOKED[0]) !== LOOKED[0]).length;
    const words = `${done} of ${topics.filter((topic, number) => mine(number)).length} looked at` + (asked.length ? `; ${answered} of ${asked.length} questions answered.` : ".");
    if (count.textContent !== words) count.textContent = words;
  };
  changed.push(refresh);

  // a job that has a list of its own: what the general list also asks is folded
  const mine = (number) => given.topics[number].id || !given.topics.some(({ id }) => id);
  const general = (others) => (others.length ? [folded(`${others.length} more that a survey usually asks`, ...others)] : []);
  const name = drafted("more", el("input", { type: "text", "aria-label": "What else was seen" }));
  const files = el("div");
  const waits = el("p", { class: "said bad", role: "status" });
  const sayWaits = () => {
    waits.textContent = state.drafts.more ? "What else was seen: typed and not added yet, so not in the file." : "";
  };
  name.addEventListener("input", sayWaits);
  sayWaits();
  here.replaceChildren(
    el("h1", {}, `Survey of ${given.venue}`),
    el("p", { class: "soft" }, `Sheet of ${given.made}. Works without a network. 'Not looked at' is an answer.`),
    folded("Before you lift a lid", cautions()),
    textField("Surveyed by", state.by, (text) => {
      state.by = text;
      keep();
    }),
    count,
    el("h2", {}, "What to look at"),
    ...topics.filter((topic, number) => mine(number)).map(({ made }) => made),
    ...general(topics.filter((topic, number) => !mine(number)).map(({ made }) => made)),
    asked.length ? el("h2", {}, "Questions that the job asks") : null,
    ...asked.map(({ made }) => made),
    el("h2", {}, "What else was seen"),
    more,
    el("div", { class: "card" }, name, el("div", { class: "buttons" }, button("Add it", () => {
      if (!name.value.trim()) return name.focus();
      const id = newName("more");
      const title = name.value.trim().slice(0, 200);
      delete state.drafts.more;
      enter(id, { on: "survey", to: "", fields: { topic: title, looked: LOOKED[1], date: today(), by: state.by } }, "topic", title);
      addMore(id, title, true);
      name.value = "";
      sayWaits();
    }))),
    el("h2", {}, "The file for the workbook"),
    el("p", {}, "Export makes one file with everything so far. Send it to whoever keeps the job; in the job sheet it is taken " +
      "in under Survey. Export as often as you like: nothing is doubled."),
    waits, files,
    el("div", { class: "buttons" }, lightButton()),
  );
  const exportButton = button("Export", () => exportFile(files), "main");
  document.body.append(el("div", { class: "bar", role: "region", "aria-label": "What is kept, and export" }, stateLine, el("div", {}, exportButton)));
  refresh();
  start();
}

survey();
