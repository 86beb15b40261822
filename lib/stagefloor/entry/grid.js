// The view of an entry grid: shows a Table and turns keys, blocks and presses into edits.

const WIDTHS = { text: 160, number: 90, choice: 160, length: 120, money: 100, flag: 80, note: 240 };
const RIGHT = new Set(["number", "length", "money"]);
const ROW_HEIGHT = 37; // pixels, a first guess for rows not drawn yet and for Page keys
const GROUP = 50; // rows that are laid out, or left out of sight, together
const YES = new Set(["yes", "y", "true", "1", "x", "✓"]);
const NO = new Set(["no", "n", "false", "0", ""]);
const HEAD_ROOM = 40; // pixels in a heading beside its longest word: padding and the arrow
const pen = document.createElement("canvas").getContext("2d");
let views = 0;

// Pixels of the longest word of a heading: a word is never broken in two.
function longestWord(label) {
  if (!pen) return 0;
  pen.font = '600 14px system-ui, -apple-system, "Segoe UI", sans-serif';
  return Math.ceil(Math.max(...label.split(/\s+/).map((word) => pen.measureText(word).width)));
}

const byWords = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });

class View {
  constructor(table, root) {
    this.table = table;
    this.uid = `sfg${++views}`;
    this.fixed = table.model.get("fixed");
    this.drawn = new Map(); // row id -> its element
    this.groups = [];
    this.shown = [];
    this.touched = new Set(); // rows that stay in sight although a filter no longer fits them
    this.fresh = new Set(); // new rows stay beside their neighbour although the table is sorted
    this.current = { id: null, key: null };
    this.anchor = this.current;
    this.editor = null;
    this.later = false; // whether columns changed while a cell was open
    this.next = null; // where the hand goes on once the edit just sent is shown, or at its next key or press
    this.sort = null;
    this.filter = "";
    this.said = "";
    this.sentences = 0;
    this.build(root);
    this.head();
    this.arrange();
    table.views.add(this);
    this.refresh({});
  }

  close() {
    this.sizes.disconnect();
    this.table.views.delete(this);
  }

  build(root) {
    const name = this.table.model.get("name");
    this.root = element("div", { class: "sf-grid", "data-lm-suppress-shortcuts": "true" });
    this.buttons = {
      add: button("Add row", () => this.addRow(), "Ctrl+Enter"),
      duplicate: button("Duplicate", () => this.onRows("duplicate")),
      delete: button("Delete row", () => this.onRows("delete")),
      undo: button("Undo", () => this.back("undo"), "Ctrl+Z"),
      redo: button("Redo", () => this.back("redo"), "Ctrl+Y"),
    };
    this.filterField = element("input", { type: "search", class: "sf-filter", id: `${this.uid}-filter` });
    this.filterField.addEventListener("input", () => {
      this.filter = this.filterField.value.trim().toLowerCase();
      this.touched.clear();
      this.fresh.clear();
      this.arrange();
      this.refresh({});
    });
    const filter = element("label", { class: "sf-filter-label" }, "Filter ", this.filterField);
    this.scroll = element("div", { class: "sf-scroll" });
    this.body = element("div", {
      role: "grid",
      class: "sf-table",
      "aria-label": name,
      "aria-multiselectable": "true",
    });
    this.empty = element("p", { class: "sf-empty" });
    this.scroll.append(this.body, this.empty);
    this.more = element("span", { class: "sf-more" });
    this.sizes = new ResizeObserver(() => this.beside());
    this.sizes.observe(this.scroll);
    this.scroll.addEventListener("scroll", () => this.beside(), { passive: true });
    this.earlier = new EarlierBar(this.table.link);
    this.hint = element("div", { class: "sf-hint", id: `${this.uid}-hint` });
    this.state = element("span", { class: "sf-state" });
    this.say = element("span", { class: "sf-say" });
    this.heard = element("span", { class: "sf-heard" }); // what stands beside a cell, for who can't see that it does
    this.count = element("span", { class: "sf-count" });
    this.mend = button("Go to the next one to mend", () => this.nextToMend());
    this.mend.hidden = true;
    const live = element(
      "div",
      { class: "sf-live", role: "status", "aria-live": "polite" },
      this.state,
      this.say,
      this.heard,
    );
    if (!this.mayAdd) {
      for (const one of ["add", "duplicate", "delete"]) this.buttons[one].hidden = true;
      if (this.table.model.get("removable")) this.buttons.delete.hidden = false;
    }
    this.filterLabel = filter;
    this.tools = toolbar(`Tools of ${name}`, Object.values(this.buttons));
    this.root.append(
      element("div", { class: "sf-caption", "aria-hidden": "true" }, name),
      element("div", { class: "sf-tools" }, this.tools, filter),
      this.earlier.root,
      this.scroll,
      this.hint,
      element("div", { class: "sf-foot" }, live, this.mend, this.more, this.count),
    );
    root.append(this.root);

    this.root.addEventListener("keydown", (event) => {
      event.stopPropagation();
      this.settle();
      if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s") event.preventDefault();
      if (!this.body.contains(event.target)) return;
      if (this.editor) this.editKey(event);
      else this.moveKey(event);
    });
    this.body.addEventListener("focusin", (event) => this.arrived(event));
    this.body.addEventListener("focusout", (event) => {
      // a window that goes behind another keeps its focus for later: the cell stays open
      if (event.target === this.editor?.input && event.target !== document.activeElement) this.commit();
    });
    this.body.addEventListener("pointerdown", (event) => this.pressed(event));
    this.body.addEventListener("pointerover", (event) => {
      const at = this.placeOf(event.target);
      if (!this.dragging || !event.buttons || !at || !at.id || this.editor) return;
      this.current = at;
      this.marking();
    });
    this.body.addEventListener("click", (event) => this.clicked(event));
    this.body.addEventListener("copy", (event) => this.copied(event));
    this.body.addEventListener("cut", (event) => {
      if (this.copied(event)) this.clear();
    });
    this.body.addEventListener("paste", (event) => this.pasted(event));
  }

  // Drawing.
  head() {
    this.columns = this.table.columns();
    const width = (column) =>
      Math.max(
        column.width || WIDTHS[column.kind] || WIDTHS.text,
        longestWord(column.label) + (column.unit ? longestWord(column.unit) + 5 : 0) + HEAD_ROOM,
      );
    const widths = this.columns.map(width);
    // The sticky column leaves room for others on a narrow screen.
    const first = `min(${widths[0]}px, max(112px, 36cqw))`;
    // No other is wider than the room beside it: what is typed in a form is read without scrolling.
    const rest = widths.slice(1).map((w) => [w > 200 ? `max(200px, min(${w}px, 100cqw - ${first} - 2px))` : `${w}px`, w]);
    this.body.style.setProperty(
      "--columns",
      [`minmax(${first}, ${widths[0]}fr)`, ...rest.map(([least, w]) => `minmax(${least}, ${w}fr)`)].join(" "),
    );
    this.body.style.setProperty("--total", `calc(${[first, ...rest.map(([least]) => least)].join(" + ")})`);
    this.body.style.setProperty("--first", first);
    this.body.setAttribute("aria-colcount", this.columns.length);
    this.heading?.remove();
    this.heading = element("div", { role: "row", class: "sf-row sf-head", "aria-rowindex": 1 });
    this.columns.forEach((column, index) => {
      const button = element(
        "button",
        { type: "button", class: "sf-sort", tabindex: -1, title: column.hint || null },
        element("span", {}, column.label),
        column.unit ? element("span", { class: "sf-unit" }, column.unit) : "",
        element("span", { class: "sf-arrow", "aria-hidden": "true" }),
      );
      button.addEventListener("click", () => this.sortBy(column.key));
      this.heading.append(
        element(
          "div",
          {
            role: "columnheader",
            class: `sf-cell${RIGHT.has(column.kind) ? " sf-right" : ""}`,
            "aria-colindex": index + 1,
            "data-key": column.key,
          },
          button,
        ),
      );
    });
    this.body.prepend(this.heading);
    if (this.sort && !this.column(this.sort.key)) this.sort = null;
    this.arrows();
    const shape = JSON.stringify(this.columns.map(({ key, kind, readonly }) => [key, kind, readonly]));
    if (shape !== this.shape) {
      for (const row of this.drawn.values()) row.remove();
      this.drawn.clear();
    }
    this.shape = shape;
    if (!this.columns.some((column) => column.key === this.current.key)) {
      // a form is begun where its first value is typed
      const first = (this.fixed && this.columns.find((one) => !one.readonly)) || this.columns[0];
      this.current = this.anchor = { id: this.current.id, key: first?.key };
    }
  }

  // Columns changed. The cell that somebody types in is left alone: all is laid out anew when it is closed.
  again() {
    this.settle();
    this.later = this.editor !== null;
    if (this.later) return;
    const held = this.body.contains(document.activeElement);
    this.head();
    this.refresh({ whole: true });
    if (held && !this.body.contains(document.activeElement)) this.focus();
  }

  // A cell may be of another kind than its column, as in a form whose lines are of many kinds.
  own(column, row) {
    const own = row?.as?.[column.key];
    return own ? { ...column, ...own } : column;
  }

  // Says how many columns lie beyond the right edge: on a phone no bar is seen until a finger moves.
  beside() {
    this.scroll.classList.toggle("sf-aside", this.scroll.scrollLeft > 0);
    const edge = this.scroll.scrollLeft + this.scroll.clientWidth;
    const heads = [...this.heading.children];
    const hidden = heads.filter((one) => one.offsetLeft + one.offsetWidth / 2 > edge).length;
    putText(this.more, hidden ? `${hidden} more ${hidden === 1 ? "column" : "columns"} to the right` : "");
  }

  words(column, text) {
    if (column.kind === "choice") return column.choices?.find((one) => one.value === text)?.label ?? text;
    if (column.kind === "flag")
      return YES.has(text.toLowerCase()) ? "✓ Yes" : NO.has(text.toLowerCase()) ? "– No" : text;
    return text;
  }

  fill(cell, row, column, problem) {
    const text = row.cells[column.key] ?? "";
    const mark = row.marks?.[column.key];
    const words = this.words(this.own(column, row), text);
    const look = [words, mark, problem].join("\n\0");
    if (cell.shows === look) return; // what is not touched is not laid out again
    cell.shows = look;
    const parts = [element("span", { class: "sf-text" }, words)];
    if (mark && mark !== "typed") parts.push(element("span", { class: "sf-mark" }, mark));
    if (problem) {
      const id = `${this.uid}-problem-${++this.sentences}`;
      parts.push(element("span", { class: "sf-problem", id }, "Mend: ", problem));
      cell.setAttribute("aria-invalid", "true");
      cell.setAttribute("aria-describedby", id);
    } else {
      cell.removeAttribute("aria-invalid");
      cell.removeAttribute("aria-describedby");
    }
    cell.replaceChildren(...parts);
  }

  drawRow(id) {
    const row = this.table.rows.get(id);
    let made = this.drawn.get(id);
    if (!made) {
      made = element("div", { role: "row", class: "sf-row", "data-id": id });
      this.columns.forEach((column, index) =>
        made.append(
          element("div", {
            role: index === 0 && column.readonly ? "rowheader" : "gridcell", // what a value is called is read with it
            tabindex: -1,
            "aria-colindex": index + 1,
            "data-key": column.key,
            class: `sf-cell sf-${column.kind}${RIGHT.has(column.kind) ? " sf-right" : ""}`,
            "aria-readonly": column.readonly ? "true" : null,
          }),
        ),
      );
      this.drawn.set(id, made);
    }
    this.columns.forEach((column, index) => {
      const whole = index === 0 ? row.problems?.[""] : undefined;
      const problem = [row.problems?.[column.key], whole].filter(Boolean).join(" ");
      const edited = this.editor && this.editor.id === id && this.editor.key === column.key;
      if (!edited) this.fill(made.children[index], row, column, problem);
    });
    return made;
  }

  fits(id) {
    if (!this.filter || this.touched.has(id) || this.fresh.has(id)) return true;
    const row = this.table.rows.get(id);
    return this.columns.some((one) =>
      this.words(this.own(one, row), row.cells[one.key] ?? "")
        .toLowerCase()
        .includes(this.filter),
    );
  }

  compare(first, second) {
    const { key, down } = this.sort;
    const [a, b] = [first, second].map((id) => this.table.rows.get(id));
    const [left, right] = [a.cells[key] ?? "", b.cells[key] ?? ""];
    if (!left || !right) return (left ? 0 : 1) - (right ? 0 : 1); // empty cells stay at the end either way
    const numbers = a.sort?.[key] !== undefined && b.sort?.[key] !== undefined;
    const result = numbers ? a.sort[key] - b.sort[key] : byWords.compare(left, right);
    return down ? -result : result;
  }

  arrange() {
    let shown = this.table.order.filter((id) => this.fits(id));
    if (this.sort) {
      const settled = shown.filter((id) => !this.fresh.has(id)).sort((a, b) => this.compare(a, b));
      for (const id of shown.filter((one) => this.fresh.has(one))) {
        const at = settled.indexOf(this.table.order[this.table.order.indexOf(id) - 1]);
        settled.splice(at < 0 ? settled.length : at + 1, 0, id);
      }
      shown = settled;
    }
    const held = this.body.contains(document.activeElement);
    const wanted = new Set(shown);
    const lostAt = this.shown.indexOf(this.current.id);
    for (const [id, row] of this.drawn) {
      if (wanted.has(id)) continue;
      if (this.editor?.id === id) this.abandon();
      row.remove();
      if (!this.table.rows.has(id)) this.drawn.delete(id);
    }
    this.layDown(shown);
    this.shown = shown;
    this.body.setAttribute("aria-rowcount", shown.length + 1);
    if (this.current.id && !wanted.has(this.current.id)) {
      const id = shown[Math.min(Math.max(lostAt, 0), shown.length - 1)] ?? null;
      this.current = this.anchor = { id, key: this.current.key };
    } else if (!this.current.id && !held && shown.length) {
      this.current = this.anchor = { id: shown[0], key: this.current.key };
    }
    if (!wanted.has(this.anchor.id)) this.anchor = this.current;
    this.marking();
    if (held && !this.body.contains(document.activeElement)) this.focus();
  }

  // Rows lie in groups: what is out of sight is left alone many rows at a time.
  layDown(shown) {
    const groups = this.groups;
    while (groups.length * GROUP < shown.length) {
      groups.push(element("div", { role: "rowgroup", class: "sf-rows" }));
      this.body.append(groups.at(-1));
    }
    groups.forEach((group, number) => {
      const from = number * GROUP;
      const ids = shown.slice(from, from + GROUP);
      let at = group.firstChild;
      ids.forEach((id, index) => {
        const row = this.drawn.get(id) ?? this.drawRow(id);
        if (row === at) at = at.nextSibling;
        else if (row.isConnected && group.moveBefore) group.moveBefore(row, at); // whoever types in it stays there
        else group.insertBefore(row, at);
        row.setAttribute("aria-rowindex", from + index + 2);
      });
      group.style.setProperty("--rows", ids.length);
    });
    while (groups.length > Math.ceil(shown.length / GROUP)) groups.pop().remove();
  }

  // A row vanished while somebody was typing in it: the text goes to the status line, not away.
  abandon() {
    const text = this.editor.input.value;
    this.closed();
    if (text) this.said = `The row was removed elsewhere. What you were typing: ${text}`;
  }

  refresh(news) {
    this.settle();
    if (news.said) this.said = news.said;
    if (news.heard !== undefined) this.heard.replaceChildren(news.heard); // said again, if it is the same again
    if (news.elsewhere)
      this.said = `Changed elsewhere: ${news.elsewhere} ${news.elsewhere === 1 ? "row" : "rows"}.`;
    for (const id of news.fresh || []) this.fresh.add(id);
    for (const id of news.rows || []) this.touched.add(id);
    for (const id of news.whole ? this.drawn.keys() : news.rows || []) {
      if (this.table.rows.has(id)) this.drawRow(id);
    }
    for (const id of news.landing || []) this.fresh.add(id);
    if (news.whole || news.moved) this.arrange();
    // who went on, to type elsewhere or to the filter, is left there
    const waits = !this.editor && this.current.id === this.duplicated && this.body.contains(document.activeElement);
    if (news.landing?.length && waits)
      this.go({ id: news.landing[0], key: this.current.key });
    // A table that is seen whole needs no filter.
    this.filterLabel.hidden = !this.filter && this.table.rows.size < 12;
    this.status();
  }

  status() {
    const { link, order } = this.table;
    this.root.dataset.state = link.state();
    const { many, refused } = this.table.toMend();
    putText(this.state, link.state() === "saved" && many ? savedBut(many, refused) : connectionWords(link));
    this.mend.hidden = !many;
    putText(this.say, this.said);
    const all = order.length;
    putText(
      this.count,
      this.shown.length < all
        ? `${this.shown.length} of ${all} rows shown`
        : this.fixed
          ? ""
          : `${all} ${all === 1 ? "row" : "rows"}`,
    );
    this.empty.hidden = this.shown.length > 0;
    putText(
      this.empty,
      all ? "No row fits the filter. Clear the filter to see all rows." : this.table.model.get("empty_hint"),
    );
    this.earlier.refresh();
    for (const what of ["duplicate", "delete"]) this.buttons[what].disabled = !this.shown.length;
    oneTabStop(this.tools);
  }

  // Where we are.
  get mayAdd() {
    return !this.fixed;
  }
  column(key) {
    return this.columns.find((one) => one.key === key);
  }
  across(key) {
    return this.columns.findIndex((one) => one.key === key);
  }
  // The column of the cell we are in, of that cell's own kind.
  here() {
    return this.own(this.column(this.current.key), this.table.rows.get(this.current.id));
  }

  cell({ id, key }) {
    const row = id === null ? this.heading : this.drawn.get(id);
    return row?.children[this.across(key)];
  }

  placeOf(target) {
    const cell = target.closest?.(".sf-cell");
    return cell && { id: cell.parentElement.dataset.id ?? null, key: cell.dataset.key };
  }

  block() {
    const [top, bottom] = [this.shown.indexOf(this.anchor.id), this.shown.indexOf(this.current.id)].sort(
      (a, b) => a - b,
    );
    const [left, right] = [this.across(this.anchor.key), this.across(this.current.key)].sort((a, b) => a - b);
    return { top: Math.max(top, 0), bottom, left, right };
  }

  blockRows() {
    const { top, bottom } = this.block();
    return this.shown.slice(top, bottom + 1);
  }

  marking() {
    for (const cell of this.marked || []) {
      cell.removeAttribute("aria-selected");
      (cell.firstElementChild?.matches(".sf-sort") ? cell.firstElementChild : cell).tabIndex = -1;
    }
    this.marked = [];
    const here = this.cell(this.current);
    if (!here) return;
    (this.current.id === null ? here.firstElementChild : here).tabIndex = 0;
    this.marked.push(here);
    if (this.current.id === null) return;
    const { top, bottom, left, right } = this.block();
    for (const id of this.shown.slice(top, bottom + 1)) {
      for (let at = left; at <= right; at += 1) {
        const cell = this.drawn.get(id).children[at];
        cell.setAttribute("aria-selected", "true");
        this.marked.push(cell);
      }
    }
    const rows = bottom - top + 1;
    putText(this.buttons.delete, rows > 1 ? `Delete ${rows} rows` : "Delete row");
    const column = this.column(this.current.key);
    putText(this.hint, column?.hint ? `${column.label}: ${column.hint}` : "");
  }

  rename(id, given) {
    const row = this.drawn.get(id);
    if (row) {
      this.drawn.delete(id);
      this.drawn.set(given, row);
      row.dataset.id = given;
    }
    const follow = (place) => (place.id === id ? { ...place, id: given } : place);
    [this.current, this.anchor] = [follow(this.current), follow(this.anchor)];
    if (this.editor?.id === id) this.editor.id = given;
    this.shown = this.shown.map((one) => (one === id ? given : one));
    for (const kept of [this.fresh, this.touched]) if (kept.delete(id)) kept.add(given);
  }

  focus() {
    const cell = this.cell(this.current);
    // Left where a field was, the caret makes the browser look through the whole table for another place.
    document.getSelection()?.removeAllRanges();
    cell?.scrollIntoView({ block: "nearest", inline: "nearest" });
    (this.current.id === null ? cell?.firstElementChild : cell)?.focus({ preventScroll: true });
  }

  go(place, extend = false) {
    this.current = place;
    if (!extend) this.anchor = place;
    this.focus(); // before anything on the page changes: the browser would have to lay it out for this alone
    this.marking();
  }

  arrived(event) {
    const place = this.placeOf(event.target);
    if (!place || (place.id === this.current.id && place.key === this.current.key)) return;
    this.current = this.anchor = place;
    this.marking();
  }

  step(down, right, extend = false) {
    const rows = this.shown.length;
    const from = this.current.id === null ? -1 : this.shown.indexOf(this.current.id);
    const row = Math.min(Math.max(from + down, extend || down < -1 ? 0 : -1), rows - 1);
    const at = Math.min(Math.max(this.across(this.current.key) + right, 0), this.columns.length - 1);
    this.go({ id: row < 0 ? null : this.shown[row], key: this.columns[at].key }, extend);
  }

  // Tab walks along the row and on to the next; false at either end of the table, where Tab leaves it.
  walk(by) {
    const wide = this.columns.length;
    const at = this.shown.indexOf(this.current.id) * wide + this.across(this.current.key) + by;
    if (this.current.id === null || at < 0 || at >= this.shown.length * wide) return false;
    this.go({ id: this.shown[Math.floor(at / wide)], key: this.columns[at % wide].key });
    return true;
  }

  moveKey(event) {
    const { key, shiftKey } = event;
    const third = event.getModifierState("AltGraph"); // for a letter of its own, though Windows says Ctrl and Alt with it
    const ctrl = (event.ctrlKey || event.metaKey) && !third;
    const page = Math.max(1, Math.floor(this.scroll.clientHeight / ROW_HEIGHT) - 1);
    const last = this.columns.length;
    const column = this.here();
    const inRow = this.current.id !== null;
    const keys = {
      ArrowUp: () => this.step(ctrl ? -Infinity : -1, 0, shiftKey),
      ArrowDown: () => this.step(ctrl ? Infinity : 1, 0, shiftKey),
      ArrowLeft: () => this.step(0, -1, shiftKey),
      ArrowRight: () => this.step(0, 1, shiftKey),
      Home: () => this.step(ctrl ? -this.shown.length : 0, -last, shiftKey),
      End: () => this.step(ctrl ? this.shown.length : 0, last, shiftKey),
      PageUp: () => this.step(-page, 0, shiftKey),
      PageDown: () => this.step(page, 0, shiftKey),
    };
    const leaving = this.leaving;
    this.leaving = key === "Escape" || (leaving && key === "Shift");
    if (key === "Tab") {
      if (leaving || !this.walk(shiftKey ? -1 : 1)) return; // the browser moves on, out of the table
    } else if (key === "Escape") {
      this.anchor = this.current;
      this.marking();
      this.notice("Press Tab to leave the table.");
    } else if (keys[key]) keys[key]();
    else if (key === "Enter" && ctrl) this.addRow();
    else if (ctrl && key.toLowerCase() === "z") this.back(shiftKey ? "redo" : "undo");
    else if (ctrl && key.toLowerCase() === "y") this.back("redo");
    else if (!inRow)
      return; // Enter and space on a heading sort, by its button
    else if (ctrl && key.toLowerCase() === "d") this.fillDown();
    else if (ctrl && key.toLowerCase() === "a") this.everything();
    else if (ctrl || (event.altKey && !third))
      return; // copy, cut and paste arrive as events of their own
    else if (key === "Delete" || key === "Backspace") this.clear();
    else if (column.kind === "flag" && (key === " " || key === "Enter" || key === "F2")) this.toggle();
    else if (key === "Enter" || key === "F2") this.edit(null, false, key === "Enter");
    else if (key.length === 1 && !column.readonly && column.kind !== "flag") {
      this.edit(column.kind === "choice" ? null : "");
      return; // the key itself goes to the editor
    } else return;
    event.preventDefault();
  }

  // Editing one cell.
  // `start`: the text to begin with, or null for the cell's own; with `over` it is marked, so that typing replaces it.
  edit(start = null, pointer = false, over = false) {
    const column = this.here();
    const cell = this.cell(this.current);
    if (this.current.id === null || !cell) return;
    if (column.readonly) {
      this.notice(`${column.label} is worked out and cannot be typed in.`);
      return;
    }
    const text = this.table.rows.get(this.current.id).cells[column.key] ?? "";
    const [head] = this.columns;
    const row = head.readonly
      ? this.table.rows.get(this.current.id).cells[head.key]
      : `row ${this.shown.indexOf(this.current.id) + 1}`;
    const label = `${column.label}, ${row}`;
    const about = [cell.getAttribute("aria-describedby"), column.hint && `${this.uid}-hint`]
      .filter(Boolean)
      .join(" ");
    const common = { class: "sf-editor", "aria-label": label, "aria-describedby": about || null };
    let input;
    if (column.kind === "choice") {
      input = element("select", common);
      const choices = [...(column.choices || [])];
      if (!choices.some((one) => one.value === "")) choices.unshift({ value: "", label: "–" });
      if (!choices.some((one) => one.value === text))
        choices.unshift({ value: text, label: `${text} (not in the list)` });
      for (const one of choices) input.append(element("option", { value: one.value }, one.label));
      input.value = text;
      input.addEventListener("pointerdown", () => {
        this.editor.pointer = true;
      });
      input.addEventListener("change", () => {
        if (this.editor?.pointer) {
          this.commit();
          this.focus();
        }
      });
    } else {
      input = element(column.kind === "note" ? "textarea" : "input", common);
      input.value = start ?? text;
      if (column.kind === "number") input.inputMode = "decimal";
    }
    this.editor = { ...this.current, input, text, pointer, unit: column.unit };
    const problem = cell.querySelector(".sf-problem");
    cell.replaceChildren(input, ...(problem ? [problem] : []));
    cell.shows = null;
    this.anchor = this.current;
    input.focus({ preventScroll: true });
    if (column.kind !== "choice" && start === null) {
      if (over) input.select();
      else input.setSelectionRange(input.value.length, input.value.length);
    }
    if (column.kind === "choice" && pointer) {
      try {
        input.showPicker();
      } catch {
        /* it opens at the next press */
      }
    }
  }

  closed() {
    this.editor = null;
    if (this.later) setTimeout(() => this.again()); // once the keys, or the press elsewhere, are dealt with
  }

  // `meant`: the cell was left by a key that says so, which makes an assumed text the user's own and offers a refused one again.
  commit(meant = false) {
    const { id, key, input, text, unit } = this.editor;
    let typed = input.value;
    const bare = /^\s*[-+]?[\d.,]+\s*$/.test(typed);
    const now = this.own(this.table.columns().find((column) => column.key === key), this.table.rows.get(id))?.unit;
    if (unit && bare && typed !== text && now !== unit) typed = `${typed.trim()} ${unit}`; // as it was read in its heading
    this.closed();
    if (typed !== text || (meant && this.table.unsettled(id, key))) {
      this.said = "";
      this.table.set([[id, key, typed]]);
    }
    this.table.changed([id]); // the field goes when the keys are dealt with
  }

  // Go on from a cell that was left, unless the hand is elsewhere by now.
  settle() {
    const { next } = this;
    this.next = null;
    if (this.body.contains(document.activeElement)) next?.();
  }

  editKey(event) {
    const { key, shiftKey } = event;
    const note = this.editor.input.tagName === "TEXTAREA";
    if (key !== "Escape") this.editor.pointer = false;
    if (event.isComposing || (note && key === "Enter" && (shiftKey || event.altKey))) return;
    if (key === "Enter") {
      this.commit(true);
      if ((event.ctrlKey || event.metaKey) && this.mayAdd) this.addRow();
      else this.next = () => this.step(shiftKey ? -1 : 1, 0);
    } else if (key === "Tab") {
      this.commit(true);
      this.next = () => this.walk(shiftKey ? -1 : 1) || this.focus();
    } else if (key === "Escape") {
      const { id } = this.editor;
      this.closed();
      this.focus();
      this.drawRow(id);
    } else return;
    event.preventDefault();
  }

  // Changes to many cells.
  notice(text) {
    this.said = text;
    this.status();
  }

  typed(column, text) {
    const plain = text.trim().toLowerCase();
    if (column.kind === "choice") {
      const choices = column.choices || [];
      const own = choices.find((one) => one.value.toLowerCase() === plain);
      const called = choices.filter((one) => one.label.toLowerCase() === plain);
      const exactly = called.filter((one) => one.label === text.trim());
      const meant = exactly.length ? exactly : called;
      return own?.value ?? (meant.length === 1 ? meant[0].value : text); // a name that two bear is not guessed
    }
    if (column.kind === "flag") return YES.has(plain) ? "yes" : NO.has(plain) ? "no" : text;
    return text;
  }

  copied(event) {
    if (this.editor || this.current.id === null) return false;
    const { left, right } = this.block();
    const words = (id, column) => {
      const text = this.table.rows.get(id).cells[column.key] ?? "";
      const own = this.own(column, this.table.rows.get(id));
      return own.kind === "choice" ? this.words(own, text) : text;
    };
    const columns = this.columns.slice(left, right + 1);
    event.clipboardData.setData(
      "text/plain",
      writeBlock(this.blockRows().map((id) => columns.map((one) => words(id, one)))),
    );
    event.preventDefault();
    return true;
  }

  pasted(event) {
    if (this.editor) return;
    event.preventDefault();
    let values = readBlock(event.clipboardData.getData("text/plain"));
    const here = this.across(this.current.key); // on a heading: below it
    const { top, bottom, left, right } =
      this.current.id === null ? { top: 0, bottom: 0, left: here, right: here } : this.block();
    if (values.length === 1 && values[0].length === 1) {
      // one value fills the whole block
      values = Array.from({ length: bottom - top + 1 }, () => Array(right - left + 1).fill(values[0][0]));
    }
    const [changes, newRows] = [[], []];
    let [outside, beyond, fixed] = [0, 0, 0];
    const named = this.headings(values[0]);
    if (named) values = values.slice(1);
    // Rows under headings of their own are new ones; where rows are given, those that bear the names in the block.
    const names = named && !this.mayAdd && this.columns[0].readonly ? named.indexOf(this.columns[0]) : -1;
    const rowOf = (texts, down) => {
      if (names >= 0) return this.rowCalled(texts[names] ?? "");
      return named && this.mayAdd ? undefined : this.shown[top + down];
    };
    values.forEach((texts, down) => {
      const id = rowOf(texts, down);
      const cells = {};
      texts.forEach((text, along) => {
        const column = named ? named[along] : this.columns[left + along];
        if (along === names) return;
        if (!column) outside += text ? 1 : 0;
        else if (column.readonly) fixed += text ? 1 : 0;
        else if (id === undefined && !this.mayAdd) beyond += text ? 1 : 0;
        else if (id === undefined) cells[column.key] = this.typed(column, text);
        else changes.push([id, column.key, this.typed(this.own(column, this.table.rows.get(id)), text)]);
      });
      if (id === undefined && this.mayAdd) newRows.push(cells);
    });
    this.said = [
      named && `The first row was read as headings${this.mayAdd ? `; rows added: ${newRows.length}` : ""}.`,
      outside && `Pasted ${named ? "under headings that are not here" : "beyond the last column"} and left out: ${outside}.`,
      beyond && `Pasted ${names < 0 ? "beyond the last row" : "for rows that are not here"} and left out: ${beyond}.`,
      fixed && `Pasted on columns that are worked out and left out: ${fixed}.`,
    ]
      .filter(Boolean)
      .join(" ");
    this.table.paste(changes, this.shown.at(-1) ?? null, newRows);
  }

  // The columns that a first row of headings names; null if it is no such row. Two known names are proof enough.
  headings(texts) {
    const plain = (text) => text.trim().toLowerCase().replace(/\s*\(.*\)$/, "");
    const found = texts.map((text) => this.columns.find((one) => [one.label, one.key].some((name) => plain(name) === plain(text))));
    return found.filter(Boolean).length >= 2 && new Set(texts.map(plain)).size === texts.length ? found : null;
  }

  // The one row that bears a name in the first column; undefined if none does, or several.
  rowCalled(name) {
    const plain = (text) => text.trim().toLowerCase();
    const found = this.table.order.filter(
      (id) => plain(this.table.rows.get(id).cells[this.columns[0].key] ?? "") === plain(name),
    );
    return found.length === 1 ? found[0] : undefined;
  }

  change(values) {
    const { top, bottom, left, right } = this.block();
    const changes = [];
    for (let down = top; down <= bottom; down += 1) {
      for (const column of this.columns.slice(left, right + 1)) {
        const text = values(this.shown[down], column, top);
        if (!column.readonly && text !== null) changes.push([this.shown[down], column.key, text]);
      }
    }
    this.said = "";
    this.table.set(changes);
  }

  clear() {
    this.change((id, column) => (this.own(column, this.table.rows.get(id)).kind === "flag" ? "no" : ""));
  }

  fillDown() {
    const { top, bottom } = this.block();
    const from = this.shown[top === bottom ? top - 1 : top];
    if (from !== undefined)
      this.change((id, column) => (id === from ? null : (this.table.rows.get(from).cells[column.key] ?? "")));
  }

  toggle() {
    const column = this.here();
    const text = this.table.rows.get(this.current.id).cells[column.key] ?? "";
    if (!column.readonly)
      this.table.set([[this.current.id, column.key, YES.has(text.toLowerCase()) ? "no" : "yes"]]);
  }

  everything() {
    if (!this.shown.length) return;
    this.anchor = { id: this.shown[0], key: this.columns[0].key };
    this.current = { id: this.shown.at(-1), key: this.columns.at(-1).key };
    this.marking();
    this.focus();
  }

  addRow() {
    if (!this.mayAdd) {
      this.notice("The rows of this table are given; none can be added.");
      return;
    }
    const id = this.table.add(this.current.id ?? this.table.order.at(-1) ?? null);
    this.go({ id, key: (this.columns.find((one) => !one.readonly) ?? this.columns[0]).key });
  }

  // The next cell with something to mend, round and round; a filter that hides it is cleared.
  nextToMend() {
    const at = this.table.order.indexOf(this.current.id);
    const order = [...this.table.order.slice(at + 1), ...this.table.order.slice(0, at + 1)];
    const wanted = (id) => Object.keys(this.table.rows.get(id).problems ?? {});
    const sameRow = at < 0 ? [] : wanted(this.current.id).filter((key) => this.across(key) > this.across(this.current.key));
    const id = sameRow.length ? this.current.id : order.find((one) => wanted(one).length);
    if (id === undefined) return;
    if (!this.shown.includes(id)) {
      this.filterField.value = this.filter = "";
      this.arrange();
    }
    const keys = (sameRow.length ? sameRow : wanted(id)).sort((a, b) => this.across(a) - this.across(b));
    this.go({ id, key: this.column(keys[0]) ? keys[0] : this.columns[0].key });
  }

  back(what) {
    this.said = "";
    this.table.undo(what);
  }

  onRows(what) {
    const rows = this.blockRows();
    if (!rows.length) {
      this.notice("Choose a row first.");
      return;
    }
    this.table.whole(what, rows);
    if (what === "duplicate") this.duplicated = this.current.id;
    this.focus();
  }

  sortBy(key) {
    if (this.sort?.key !== key) this.sort = { key, down: false };
    else this.sort = this.sort.down ? null : { key, down: true };
    this.arrows();
    this.fresh.clear();
    this.touched.clear();
    this.arrange();
    this.status();
  }

  arrows() {
    for (const head of this.heading.children) {
      const sorted = this.sort?.key === head.dataset.key;
      head.querySelector(".sf-arrow").textContent = sorted ? (this.sort.down ? "▼" : "▲") : "";
      if (sorted) head.setAttribute("aria-sort", this.sort.down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
  }

  // Mouse and finger.
  pressed(event) {
    this.settle();
    const place = this.placeOf(event.target);
    if (!place || place.id === null || this.editor?.input === event.target) return;
    this.dragging = event.pointerType === "mouse" && event.button === 0;
    const again = place.id === this.current.id && place.key === this.current.key;
    this.second = (again && this.body.contains(document.activeElement)) || event.pointerType === "touch";
    if (event.pointerType !== "mouse") return; // a finger may be about to scroll
    event.preventDefault();
    if (this.editor) this.commit();
    this.go(place, event.shiftKey);
  }

  clicked(event) {
    this.dragging = false;
    const place = this.placeOf(event.target);
    if (!place || place.id === null || this.editor?.input === event.target || event.shiftKey) return;
    if (event.pointerType !== "mouse") this.go(place);
    const single = this.anchor.id === this.current.id && this.anchor.key === this.current.key;
    if (!single || !(this.second || event.detail > 1)) return;
    if (this.here().kind === "flag") this.toggle();
    else this.edit(null, true, true);
  }
}

// A stored value may be wrong, as a reading that does not fit its line: that is not to be called unsaved.
function savedBut(many, refused) {
  if (!refused) return `All saved; ${many === 1 ? "1 cell" : `${many} cells`} to look at: see 'Mend'.`;
  return `Saved, except ${refused === 1 ? "1 cell that was" : `${refused} cells that were`} not taken: see 'Mend'.`;
}

export default () => {
  let table;
  return {
    initialize({ model }) {
      table = new Table(model);
      return () => table.link.close();
    },
    render({ model, el }) {
      const view = new View(table, el);
      const again = () => view.again();
      model.on("change:columns", again);
      table.link.hello();
      return () => {
        model.off("change:columns", again);
        view.close();
      };
    },
  };
};
