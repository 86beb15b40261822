// The line to Python: numbered edits leave one at a time, and each waits here until it is answered.
// Questions change nothing: only the newest counts, and none stands in the way of an edit.

const PATIENCE = 4000; // milliseconds without an answer before we say "not connected"
const LONGEST_WAIT = 15000; // milliseconds between attempts, at most
const BREATH = 30; // milliseconds between two questions

class Link {
  // owner: { prepare(message), answered(answer, message), told(message), changed() }; if it asks: replied(answer)
  constructor(model, owner) {
    this.model = model;
    this.owner = owner;
    this.client = Math.random().toString(36).slice(2, 10);
    this.edit = 0;
    this.queue = [];
    this.silent = false;
    this.sent = null;
    this.timer = null;
    this.questions = 0;
    this.question = null; // the newest that has not left yet
    this.asked = null; // {number, at, edit} of the one under way
    this.earlier = this.recall();
    this.hear = (message) => this.heard(message);
    model.on("msg:custom", this.hear);
    this.leaving = (event) => {
      if (this.queue.length) event.preventDefault();
    };
    window.addEventListener("beforeunload", this.leaving);
  }

  close() {
    clearTimeout(this.timer);
    clearTimeout(this.greeting);
    clearTimeout(this.asking);
    this.model.off("msg:custom", this.hear);
    window.removeEventListener("beforeunload", this.leaving);
  }

  hello() {
    clearTimeout(this.greeting);
    this.greeting = setTimeout(() => {
      this.silent = true;
      this.owner.changed();
    }, PATIENCE);
    try {
      this.model.send({ do: "hello", earlier: (this.earlier || []).map(({ client, edit }) => [client, edit]) });
    } catch {
      this.silent = true;
    }
  }

  state() {
    if (this.silent) return "waiting";
    return this.queue.length ? "saving" : "saved";
  }

  // Queue an edit. A whole edit that has not left yet may swallow the next one of its kind (join).
  post(message, join = null) {
    const last = this.queue[this.queue.length - 1];
    const mine = last && last !== this.sent && last.client === this.client; // an earlier page's number may be answered already
    if (!(join && mine && join(last.message, message))) {
      this.queue.push({ client: this.client, edit: ++this.edit, message });
    }
    this.pump();
    this.remember();
    this.owner.changed();
  }

  // Ask what a change would give. A lost question is never asked again.
  ask(message) {
    this.question = message;
    this.askNow();
  }

  askNow() {
    clearTimeout(this.asking);
    if (!this.question || this.silent) return;
    const now = performance.now();
    const wait = this.asked ? this.asked.at + (this.asked.done ? BREATH : PATIENCE) - now : 0;
    if (wait > 0) {
      this.asking = setTimeout(() => this.askNow(), wait);
      return;
    }
    this.asked = { number: ++this.questions, at: now, edit: this.edit, done: false };
    const message = { ...this.question, client: this.client, question: this.asked.number };
    this.question = null;
    try {
      this.model.send(message);
    } catch {
      this.silent = true;
    }
  }

  replied(message) {
    if (message.client !== this.client || message.reply !== this.asked?.number) return;
    this.asked.done = true;
    if (this.asked.edit === this.edit) this.owner.replied(message); // else an edit went out since: it knows better
    this.askNow();
  }

  pump() {
    if (this.sent || !this.queue.length) return;
    this.sent = this.queue[0];
    this.attempt(PATIENCE);
  }

  attempt(patience) {
    const { client, edit, message } = this.sent;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      this.silent = true;
      this.owner.changed();
      this.attempt(Math.min(patience * 2, LONGEST_WAIT));
    }, patience);
    try {
      this.model.send({ ...this.owner.prepare(message), client, edit });
    } catch {
      this.silent = true;
    }
  }

  heard(message) {
    clearTimeout(this.greeting);
    if (this.silent) {
      this.silent = false;
      this.owner.changed();
    }
    if (message.reply !== undefined) {
      this.replied(message);
      return;
    }
    for (const done of message.had || []) this.reached(...done);
    if (message.ack === undefined) {
      this.owner.told(message);
      return;
    }
    this.reached(message.client, message.ack);
    if (this.sent && message.client === this.sent.client && message.ack === this.sent.edit) {
      clearTimeout(this.timer);
      const { message: asked } = this.queue.shift();
      this.sent = null;
      this.owner.answered(message, asked);
      this.remember();
      this.pump();
      this.owner.changed();
    } else if (message.client !== this.client && !message.again) {
      this.owner.told({ ...message, do: "rows", elsewhere: true });
    }
  }

  // Unanswered edits survive a page that is loaded again, when the owner gave a place to keep them.
  place() {
    const key = this.model.get("keep_under");
    return key ? `stagefloor:${key}` : null;
  }

  remember() {
    const place = this.place();
    if (!place) return;
    try {
      const waiting = [
        ...(this.earlier || []),
        ...this.queue.map((one) => ({ ...one, message: this.owner.prepare(one.message) })),
      ];
      if (waiting.length) sessionStorage.setItem(place, JSON.stringify(waiting));
      else sessionStorage.removeItem(place);
    } catch {
      /* storage is full or switched off: the queue in memory still stands */
    }
  }

  recall() {
    const place = this.place();
    if (!place) return null;
    try {
      const kept = JSON.parse(sessionStorage.getItem(place) || "null");
      return Array.isArray(kept) && kept.length ? kept : null;
    } catch {
      return null;
    }
  }

  // An edit of an earlier page has been answered: it is not offered again.
  reached(client, edit) {
    const left = this.earlier?.filter((one) => one.client !== client || one.edit !== edit);
    if (!left || left.length === this.earlier.length) return;
    this.earlier = left.length ? left : null;
    this.remember();
    this.owner.changed();
  }

  takeEarlier(send) {
    const earlier = this.earlier || [];
    this.earlier = null;
    if (send) this.queue.push(...earlier); // with their first numbers, so that none is done twice
    this.owner.told({ do: "restored" });
    this.remember();
    this.pump();
    this.owner.changed();
  }
}

function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) made.setAttribute(key, value);
  }
  made.append(...children); // strings become text nodes: nothing typed is ever read as markup
  return made;
}

// What the status line says about the line itself.
function connectionWords(link) {
  const state = link.state();
  const waiting = link.queue.length;
  if (state === "saved") return "All saved.";
  if (state === "saving") return "Saving…";
  if (!waiting) return "Not connected: no answer yet.";
  const changes = waiting === 1 ? "1 change is" : `${waiting} changes are`;
  return `Not connected. ${changes} kept here and sent again until saved.`;
}

function button(text, act, title = null) {
  const made = element("button", { type: "button", class: "sf-button", title }, text);
  made.addEventListener("click", act);
  return made;
}

// Buttons in a row that Tab meets once: the arrow keys go on from button to button.
function toolbar(name, buttons) {
  const made = element("div", { class: "sf-buttons", role: "toolbar", "aria-label": name }, ...buttons);
  made.addEventListener("focusin", (event) => oneTabStop(made, event.target));
  made.addEventListener("keydown", (event) => {
    const able = ready(made);
    const at = able.indexOf(document.activeElement);
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: able.length - 1 }[event.key];
    if (to === undefined || at < 0 || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    able[(to + able.length) % able.length].focus();
  });
  oneTabStop(made);
  return made;
}

function ready(bar) {
  return [...bar.querySelectorAll("button")].filter((one) => !one.disabled && !one.hidden);
}

// The button that Tab meets: the one used last, else the first that can be pressed.
function oneTabStop(bar, wanted = null) {
  const able = ready(bar);
  const stop = [wanted, bar.querySelector("button[tabindex='0']")].find((one) => able.includes(one)) ?? able[0];
  for (const one of bar.querySelectorAll("button")) {
    const wantedIndex = one === stop ? 0 : -1;
    if (one.tabIndex !== wantedIndex) one.tabIndex = wantedIndex;
  }
}

// The offer to send what an earlier page could not.
class EarlierBar {
  constructor(link) {
    this.link = link;
    this.words = element("span");
    const choose = (send) => {
      link.takeEarlier(send);
      this.root.parentElement.querySelector("[tabindex='0']").focus(); // the button that was pressed is gone
    };
    this.root = element(
      "div",
      { class: "sf-earlier", hidden: "" },
      this.words,
      " ",
      button("Save them now", () => choose(true)),
      " ",
      button("Discard them", () => choose(false)),
    );
  }

  refresh() {
    const kept = this.link.earlier?.length;
    this.root.hidden = !kept;
    if (kept)
      putText(
        this.words,
        `${kept} ${kept === 1 ? "change" : "changes"} made here earlier may not have reached the job. Look before you save.`,
      );
  }
}

// Write only when the words differ, so that a screen reader does not say them again.
function putText(place, text) {
  if (place.textContent !== text) place.textContent = text;
}
