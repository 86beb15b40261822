// The rows of an entry grid, its edits on their way to Python, and clipboard blocks; knows no page.

const BLINK = 50; // milliseconds that an answer may take before the page shows an edit without it

// Rows as Python last told them, with edits not answered yet laid over. Knows no page.
class Table {
  constructor(model) {
    this.model = model;
    this.views = new Set();
    this.alias = new Map(); // a row's id made here -> its id given by Python
    this.temporary = 0;
    this.load(model.get("rows") || []);
    this.link = new Link(model, this);
    model.on("change:rows", () => {
      this.load(model.get("rows"));
      this.tell({ whole: true });
    });
  }

  load(rows) {
    const unsaved = [...(this.rows?.values() ?? [])].filter((row) => row.unsaved);
    this.rows = new Map([...rows, ...unsaved].map((row) => [row.id, row]));
    this.order = [...this.rows.keys()];
    if (this.link) this.layOver();
  }

  // What was held back is told with it.
  tell(news) {
    clearTimeout(this.telling);
    const rows = [...new Set([...(this.toTell ?? []), ...(news.rows || [])])];
    this.toTell = null;
    for (const view of this.views) view.refresh({ ...news, rows });
  }
  // Told once the keys are dealt with, so that an edit leaves first. An edit on its way is shown with its answer,
  // unless that takes long: laying out the page twice would keep the answer waiting.
  changed(rows = []) {
    for (const view of this.views) view.root.dataset.state = this.link.state(); // its words come later
    if (!this.toTell) {
      this.toTell = new Set();
      const told = () => this.toTell && this.tell({});
      if (this.link.state() === "saving") this.telling = setTimeout(told, BLINK);
      else queueMicrotask(told);
    }
    for (const id of rows) this.toTell.add(id);
  }
  real(id) {
    return this.alias.get(id) ?? id;
  }
  // How many cells have something to mend, and how many of them hold a text that the job did not take.
  toMend() {
    let [many, refused] = [0, 0];
    for (const row of this.rows.values()) {
      many += Object.keys(row.problems ?? {}).length;
      refused += (row.refused ?? []).length + (row.unsaved ? 1 : 0);
    }
    return { many, refused };
  }
  columns() {
    return this.model.get("columns") || [];
  }

  // Whether a text entered as it stands says something all the same: it was only assumed, or was not taken.
  unsettled(id, key) {
    const row = this.rows.get(id);
    return Boolean(row && (row.marks?.[key] === "assumed" || row.problems?.[key] || row.unsaved));
  }

  // Edits asked for by a view.
  set(changes) {
    const changed = changes.filter(([id, key, text]) => {
      const row = this.rows.get(id);
      return row && ((row.cells[key] ?? "") !== text || this.unsettled(id, key));
    });
    if (!changed.length) return;
    this.write(changed);
    const unsaved = new Set(changed.map(([id]) => id).filter((id) => this.rows.get(id).unsaved));
    for (const id of unsaved) this.tryAgain(id);
    const ready = changed.filter(([id]) => !unsaved.has(id));
    if (ready.length) {
      this.link.post({ do: "set", changes: ready }, (last, next) => {
        if (last.do !== "set") return false;
        const place = ([id, key]) => `${this.real(id)}\n${key}`;
        const newer = new Set(next.changes.map(place)); // of two entries in one cell the last counts
        last.changes = [...last.changes.filter((one) => !newer.has(place(one))), ...next.changes];
        return true;
      });
    }
    this.changed(changed.map(([id]) => id));
  }

  add(after) {
    const id = this.insert(after, {});
    this.link.post({ do: "add", after, cells: {}, made: [id] });
    this.tell({ moved: true, fresh: [id] });
    return id;
  }

  paste(changes, after, newRows) {
    if (!newRows.length) {
      this.set(changes);
      return;
    }
    this.write(changes);
    const made = [];
    for (const cells of newRows) made.push(this.insert(made.at(-1) ?? after, cells));
    this.link.post({ do: "paste", changes, after, new_rows: newRows, made });
    this.tell({ moved: true, fresh: made, rows: changes.map(([id]) => id) });
  }

  whole(what, rows) {
    const here = what === "delete" ? rows.filter((id) => this.rows.get(id)?.unsaved) : [];
    for (const id of here) this.drop(id);
    const there = rows.filter((id) => !here.includes(id));
    if (there.length) this.link.post({ do: what, rows: there });
    if (here.length) this.tell({ moved: true });
  }

  undo(what) {
    this.link.post({ do: what });
  }

  insert(after, cells) {
    const id = `new-${this.link.client}-${++this.temporary}`;
    this.rows.set(id, { id, cells: { ...cells }, problems: {}, marks: {} });
    const at = this.order.indexOf(after);
    this.order.splice(at < 0 ? this.order.length : at + 1, 0, id);
    return id;
  }

  drop(id) {
    this.rows.delete(id);
    this.order = this.order.filter((one) => one !== id);
  }

  write(changes) {
    for (const [id, key, text] of changes) {
      const row = this.rows.get(this.real(id));
      if (row) this.rows.set(row.id, { ...row, cells: { ...row.cells, [key]: text } });
    }
  }

  // A row Python did not take: its text stays, and the next entry in it offers the row once more.
  tryAgain(id) {
    const row = this.rows.get(id);
    this.rows.set(id, { ...row, unsaved: false, problems: {} });
    this.link.post({
      do: "add",
      after: this.order[this.order.indexOf(id) - 1] ?? null,
      cells: { ...row.cells },
      made: [id],
    });
  }

  // What the link asks of its owner.
  prepare(message) {
    const out = { ...message };
    if ("after" in out) out.after = this.order.includes(this.real(out.after)) ? this.real(out.after) : null;
    if (out.rows) out.rows = out.rows.map((id) => this.real(id));
    if (out.changes) out.changes = out.changes.map(([id, key, text]) => [this.real(id), key, text]);
    return out;
  }

  answered(answer, asked) {
    const made = asked.made || [];
    const given = answer.added || [];
    const refused = made.slice(given.length);
    for (const [index, id] of made.slice(0, given.length).entries()) this.rename(id, given[index]);
    const before = this.order.join("\n"); // a row that was refused may go
    for (const id of refused) this.refuse(id, answer.say);
    const landing = asked.do === "duplicate" ? answer.added : null;
    this.take(answer, { said: answer.say || "", heard: this.notTaken(answer, asked), landing, rows: refused }, before);
  }

  // What the answer finds wrong with the cells of an edit, in words to be heard.
  notTaken(answer, asked) {
    const rows = new Map((answer.rows || []).map((row) => [row.id, row]));
    const label = (key) => this.columns().find((column) => column.key === key)?.label ?? key;
    const found = (asked.changes || [])
      .map(([id, key]) => [key, rows.get(this.real(id))?.problems?.[key]])
      .filter(([, problem]) => problem);
    const more = found.length > 1 ? ` And ${found.length - 1} more to mend.` : "";
    return found.length ? `${label(found[0][0])}: ${found[0][1]}${more}` : "";
  }

  told(message) {
    if (message.do === "table") {
      if (JSON.stringify(message.rows) === JSON.stringify(this.order.map((id) => this.rows.get(id)))) return;
      this.load(message.rows);
      this.tell({ whole: true });
    } else if (message.do === "restored") {
      this.layOver();
      this.tell({ whole: true });
    } else {
      this.take(
        message,
        message.elsewhere ? { elsewhere: (message.rows || []).length + (message.removed || []).length } : {},
      );
    }
  }

  take(answer, news, before = this.order.join("\n")) {
    for (const row of answer.rows || []) this.rows.set(row.id, row);
    for (const id of answer.removed || []) this.rows.delete(id);
    if (answer.order) {
      const told = new Set(answer.order);
      const order = answer.order.filter((id) => this.rows.has(id));
      this.order.forEach((id, index) => {
        // rows still on their way to Python keep their neighbour
        if (told.has(id) || !this.rows.has(id)) return;
        const at = order.indexOf(this.order[index - 1]);
        order.splice(at < 0 ? order.length : at + 1, 0, id);
      });
      this.order = order;
    }
    this.order = this.order.filter((id) => this.rows.has(id));
    this.layOver();
    this.tell({
      ...news,
      rows: [...(news.rows || []), ...(answer.rows || []).map((row) => row.id)],
      moved: this.order.join("\n") !== before,
    });
  }

  layOver() {
    for (const { message } of this.link.queue) {
      if (message.changes) this.write(message.changes);
      (message.made || []).forEach((id, index) => {
        if (this.rows.has(this.real(id))) return;
        const cells = message.new_rows ? message.new_rows[index] : message.cells;
        this.rows.set(id, { id, cells: { ...cells }, problems: {}, marks: {} });
        const at = this.order.indexOf(this.real(message.after));
        this.order.splice(at < 0 ? this.order.length : at + 1 + index, 0, id);
      });
    }
  }

  rename(id, given) {
    this.alias.set(id, given);
    const row = this.rows.get(id);
    if (!row) return;
    this.rows.delete(id);
    this.rows.set(given, { ...row, id: given });
    this.order[this.order.indexOf(id)] = given;
    for (const view of this.views) view.rename(id, given);
  }

  refuse(id, say) {
    const row = this.rows.get(id);
    if (!row) return;
    const typing = [...this.views].some((view) => view.editor?.id === id);
    if (!typing && Object.values(row.cells).every((text) => !text)) {
      this.drop(id);
      return;
    }
    // what else was typed in it goes with the row when that is offered again
    for (const { message } of this.link.queue)
      if (message.changes) message.changes = message.changes.filter(([one]) => one !== id);
    const sentence = `This row is not saved. ${say || "Change it and it is offered again, or delete it."}`;
    this.rows.set(id, { ...row, unsaved: true, problems: { "": sentence } });
  }
}

// Blocks of text as spreadsheets put them on the clipboard.
function readBlock(text) {
  const rows = [[]];
  let rest = text.replace(/\r\n?/g, "\n").replace(/\n$/, "");
  for (;;) {
    const quoted = /^"((?:[^"]|"")*)"(?=[\t\n]|$)/.exec(rest);
    const field = quoted ? quoted[0] : /^[^\t\n]*/.exec(rest)[0];
    rows.at(-1).push(quoted ? quoted[1].replaceAll('""', '"') : field);
    const next = rest[field.length];
    rest = rest.slice(field.length + 1);
    if (next === undefined) return rows;
    if (next === "\n") rows.push([]);
  }
}

function writeBlock(rows) {
  const field = (text) =>
    /[\t\n]/.test(text) || text.startsWith('"') ? `"${text.replaceAll('"', '""')}"` : text;
  return rows.map((cells) => cells.map(field).join("\t")).join("\n");
}
