// The view of an entry plan: shows a Scene and turns drags, keys and presses into edits.

const SMALLEST = 16; // pixels: an item is never drawn smaller
const STARTED = 4; // pixels a pointer travels before a press becomes a drag
const LETTER = 6.7; // pixels, a usual letter of a label
const STEP = 0.1; // metres an arrow key moves an item when the scene names no snap
let drawings = 0;

class Drawing {
  constructor(scene, root) {
    this.scene = scene;
    this.uid = `sfp${++drawings}`;
    this.elements = new Map(); // item id -> its element
    this.pointers = new Map();
    this.selected = null;
    // null, {what: "measure", from, to, names}, {what: "points", from, to} in points of the file, {what: "shift"},
    // {what: "place", role, line}
    this.tool = null;
    this.cursor = null; // where the keyboard's cross stands, metres
    this.said = "";
    this.off = new Set(
      (scene.base.layers || []).filter((layer) => layer.on === false).map((layer) => layer.key),
    );
    this.build(root);
    this.chooser();
    scene.views.add(this);
    this.sizes = new ResizeObserver(() => this.resized());
    this.sizes.observe(this.frame);
  }

  close() {
    this.sizes.disconnect();
    this.scene.views.delete(this);
  }

  build(root) {
    this.root = element("div", { class: "sf-plan", "data-lm-suppress-shortcuts": "true" });
    this.measureButton = button("Measure", () =>
      this.take(this.tool?.what === "measure" ? null : { what: "measure" }),
    );
    this.removeButton = button("Remove", () => this.remove());
    this.places = element("span", { class: "sf-places" });
    this.tools = toolbar("Tools of the plan", [
      button("Zoom in", () => this.zoom(1.4)),
      button("Zoom out", () => this.zoom(1 / 1.4)),
      button("Fit", () => this.fit()),
      this.measureButton,
      this.places,
      this.removeButton,
    ]);
    this.tools.classList.add("sf-tools");
    this.frame = element("div", { class: "sf-frame" });
    this.svg = drawn("svg", {
      class: "sf-svg",
      role: "group",
      tabindex: 0,
      "aria-describedby": `${this.uid}-help`,
    });
    this.svg.setAttribute("aria-label", this.scene.model.get("name"));
    const hatch = drawn(
      "pattern",
      {
        id: `${this.uid}-hatch`,
        width: 8,
        height: 8,
        patternUnits: "userSpaceOnUse",
        patternTransform: "rotate(45)",
      },
      drawn("line", { x1: 0, y1: 0, x2: 0, y2: 8, class: "sf-hatch" }),
    );
    this.backdrop = new Backdrop(this);
    this.shapeLayer = drawn("g");
    this.shapeLabels = drawn("g", { "aria-hidden": "true" });
    this.itemLayer = drawn("g");
    this.overlay = drawn("g", { class: "sf-overlay", "aria-hidden": "true" });
    this.svg.append(
      drawn("defs", {}, hatch),
      this.backdrop.layer,
      this.shapeLayer,
      this.shapeLabels,
      this.itemLayer,
      this.overlay,
    );
    this.frame.append(this.svg);
    const sides = element(
      "div",
      { class: "sf-sides" },
      element("span", {}, "← Stage right"),
      element("span", {}, "Downstage, audience"),
      element("span", {}, "Stage left →"),
    );
    this.layers = element("fieldset", { class: "sf-layers" });
    this.key = element("div", { class: "sf-key" });
    this.readout = element("p", { class: "sf-readout" });
    this.state = element("span", { class: "sf-state" });
    this.say = element("span", { class: "sf-say" });
    this.earlier = new EarlierBar(this.scene.link);
    this.help = element(
      "p",
      { class: "sf-help", id: `${this.uid}-help` },
      "",
    );
    this.root.append(
      this.tools,
      this.earlier.root,
      element("div", { class: "sf-up" }, "Upstage ↑"),
      this.frame,
      sides,
      this.readout,
      element("div", { class: "sf-live", role: "status", "aria-live": "polite" }, this.state, this.say),
      this.backdrop.root,
      this.layers,
      this.key,
      this.help,
    );
    root.append(this.root);

    this.root.addEventListener("keydown", (event) => {
      event.stopPropagation();
      if (this.svg.contains(event.target)) this.pressKey(event);
    });
    this.root.addEventListener("keyup", () => this.settle());
    this.svg.addEventListener("focusout", () => this.settle());
    this.svg.addEventListener("focusin", () => this.readings());
    this.frame.addEventListener("contentvisibilityautostatechange", (event) => {
      this.unseen = event.skipped;
      if (this.stale) this.draw();
    });
    this.svg.addEventListener("pointerdown", (event) => this.down(event));
    this.svg.addEventListener("pointermove", (event) => this.moved(event));
    this.svg.addEventListener("pointerup", (event) => this.up(event));
    this.svg.addEventListener("pointercancel", (event) => this.cancelled(event));
    this.svg.addEventListener(
      "wheel",
      (event) => {
        if (!event.ctrlKey && !event.metaKey) return; // a plain wheel scrolls the page
        event.preventDefault();
        this.zoom(Math.exp(-event.deltaY / 300), this.at(event));
      },
      { passive: false },
    );
  }

  // Layer switches, placing buttons and the key to line styles: whatever the scene offers.
  chooser() {
    const { layers = [], place = [] } = this.scene.base;
    this.refill(this.layers, layers, (layer) => {
      const box = element("input", { type: "checkbox", "data-key": layer.key });
      box.addEventListener("change", () => {
        if (box.checked) this.off.delete(layer.key);
        else this.off.add(layer.key);
        this.draw();
      });
      return element("label", {}, box, " ", layer.label);
    });
    for (const box of this.layers.querySelectorAll("input")) box.checked = !this.off.has(box.dataset.key);
    this.layers.hidden = !layers.length;
    this.backdrop.chooser();
    this.refill(this.places, place, ({ role, line, label }) => {
      const made = button(label, () => this.take(this.tool?.role === role ? null : { what: "place", role, line }));
      made.dataset.key = role;
      return made;
    });
    if (this.tool?.what === "place" && !place.some((one) => one.role === this.tool.role)) {
      const next = this.tool.placed && this.tool.line && place.find((one) => one.line === this.tool.line);
      if (next) this.tool = { what: "place", role: next.role, line: next.line };
      else this.take(null);
    }
    this.pressing();
    const hands = place.length || [...this.scene.items.values()].some((item) => item.draggable);
    this.removeButton.hidden = !hands;
    const moves = hands ? "Arrow keys move an item, with Shift ten steps, Delete removes it. " : "";
    const keys = "On the plan itself, arrow keys pan, + and - zoom, 0 fits.";
    putText(this.help, `Tab goes from item to item, Enter selects. ${moves}${keys}`);
  }

  // What a row of switches or buttons offers, made anew only if it differs; the focus stays on its like.
  refill(row, offered, make) {
    const told = JSON.stringify(offered);
    if (row.offered === told) return;
    row.offered = told;
    const had = row.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    const legend = row === this.layers ? [element("legend", {}, "Shown")] : [];
    row.replaceChildren(...legend, ...offered.map(make));
    if (had === null) return;
    ([...row.querySelectorAll("[data-key]")].find((one) => one.dataset.key === had) ?? this.svg).focus();
  }

  // What is about to be hidden or switched off must not take the focus with it.
  rescue(part, goes = true) {
    if (goes && part.contains(document.activeElement)) this.svg.focus({ preventScroll: true });
  }

  drawKey() {
    const roles = [...new Set(this.visible().map((shape) => shape.role))].filter((role) => SHAPES[role]);
    if (roles.join() === this.keyed) return;
    this.keyed = roles.join();
    this.key.replaceChildren(
      ...roles.map((role) => {
        const area = role === "stage" || role === "keep_clear";
        const sample = (extra) =>
          area
            ? drawn("rect", { x: 1, y: 1, width: 32, height: 12, class: `sf-shape sf-${role}` })
            : drawn("line", { x1: 1, y1: 7, x2: 33, y2: 7, class: `sf-shape sf-${role}${extra}` });
        const svg = drawn("svg", { width: 34, height: 14, "aria-hidden": "true" }, sample(""));
        if (role === "raceway") svg.append(sample(" sf-core"));
        if (role === "keep_clear") svg.firstChild.style.fill = `url(#${this.uid}-hatch)`;
        return element("span", {}, svg, " ", SHAPES[role]);
      }),
    );
  }

  // From metres to the screen and back.
  px(point) {
    return toScreen(point, this.scale);
  }

  at(event) {
    const frame = this.svg.getBoundingClientRect();
    return [
      this.middle[0] + (event.clientX - frame.left - this.width / 2) / this.scale,
      this.middle[1] - (event.clientY - frame.top - this.height / 2) / this.scale,
    ];
  }

  resized() {
    const [x0, y0, x1, y1] = this.scene.base.extent;
    const width = this.frame.clientWidth;
    if (!width || width === this.width) return;
    this.width = width;
    this.height = Math.round(Math.min(Math.max(width * ((y1 - y0) / (x1 - x0)), 260), 620));
    this.svg.setAttribute("width", width);
    this.svg.setAttribute("height", this.height);
    if (this.scale && !this.fitted) this.draw();
    else this.fit();
  }

  fit() {
    const [x0, y0, x1, y1] = this.scene.base.extent;
    this.scale = Math.min((this.width - 24) / (x1 - x0), (this.height - 24) / (y1 - y0));
    this.middle = [(x0 + x1) / 2, (y0 + y1) / 2];
    this.fitted = true;
    this.draw();
  }

  zoom(by, about = this.middle) {
    const scale = Math.min(Math.max(this.scale * by, 2), 2000);
    const kept = this.scale / scale;
    this.middle = this.middle.map((value, axis) => about[axis] + (value - about[axis]) * kept);
    this.scale = scale;
    this.fitted = false;
    this.draw();
  }

  look() {
    const [x, y] = this.px(this.middle);
    this.svg.setAttribute(
      "viewBox",
      `${x - this.width / 2} ${y - this.height / 2} ${this.width} ${this.height}`,
    );
  }

  pan(right, down) {
    this.middle = [this.middle[0] - right / this.scale, this.middle[1] + down / this.scale];
    this.fitted = false;
    this.look();
  }

  // Drawing.
  visible() {
    return this.scene.shapes.filter((shape) => !this.off.has(shape.layer));
  }

  draw() {
    if (!this.scale) return;
    this.stale = this.unseen;
    if (this.unseen) return; // drawn as soon as it comes into sight
    this.look();
    this.backdrop.draw();
    this.drawShapes();
    const items = [...this.scene.items.values()];
    for (const [id, made] of this.elements) {
      if (this.scene.items.has(id)) continue;
      const held = made.contains(document.activeElement);
      made.remove();
      this.elements.delete(id);
      if (held) this.svg.focus();
    }
    for (const item of items) this.drawItem(item);
    this.labels(items);
    this.drawOverlay();
    this.drawKey();
    this.readings();
  }

  drawShapes() {
    const parts = [];
    this.hanging = new Map(); // shape id -> the element that follows an item
    for (const shape of this.visible()) {
      const kind = { class: `sf-shape sf-${shape.role}` };
      const tags = shape.role === "raceway" ? [kind, { class: `${kind.class} sf-core` }] : [kind];
      for (const attributes of tags) {
        const made = outline(shape, attributes, this.scale);
        if (made && shape.role === "keep_clear") made.style.fill = `url(#${this.uid}-hatch)`;
        if (made) parts.push(made);
        if (made && (shape.follow || shape.ends)) this.hanging.set(shape.id, made);
      }
    }
    this.shapeLayer.replaceChildren(...parts);
  }

  // Only what hangs on a moved item, while it is under the hand.
  drawHanging(id) {
    for (const shape of this.visible()) {
      const made = this.hanging?.get(shape.id);
      if (!made || !(shape.follow === id || shape.ends?.includes(id))) continue;
      const now = outline(shape, {}, this.scale);
      for (const { name, value } of now.attributes) made.setAttribute(name, value);
    }
  }

  drawItem(item) {
    let made = this.elements.get(item.id);
    if (!made) {
      made = drawn("g", { class: "sf-item", role: "button", tabindex: 0, "data-id": item.id });
      this.elements.set(item.id, made);
      this.itemLayer.append(made);
    }
    const look = JSON.stringify([item.role, item.size, item.state, item.draggable, this.scale]);
    if (made.dataset.look !== look) {
      made.dataset.look = look;
      made.replaceChildren(...symbol(item, this.extent(item)), drawn("text", { class: "sf-label" }));
    }
    made.setAttribute(
      "transform",
      `translate(${this.px([item.x, item.y])
        .map((v) => v.toFixed(1))
        .join(" ")})`,
    );
    const state = item.state ? `, ${item.state}` : "";
    made.setAttribute(
      "aria-label",
      `${this.scene.called(item)} at ${this.scene.words(item.x, item.y)}${state}`,
    );
    made.setAttribute("aria-pressed", String(item.id === this.selected));
    made.classList.toggle("sf-fixed", !item.draggable);
    made.classList.toggle("sf-stop", item.state === "stop" || item.state === "mend");
  }

  extent(item) {
    const [width, depth] = item.size || [0, 0];
    return [Math.max(width * this.scale, SMALLEST), Math.max(depth * this.scale, SMALLEST)];
  }

  // Each label takes the first free place beside its item; what finds none waits for a closer look.
  labels(items) {
    const [mx, my] = this.px(this.middle);
    const view = [mx - this.width / 2, my - this.height / 2, mx + this.width / 2, my + this.height / 2];
    const taken = items.map((item) => {
      const [[x, y], [w, h]] = [this.px([item.x, item.y]), this.extent(item)];
      return [x - w / 2, y - h / 2, x + w / 2, y + h / 2];
    });
    const free = ([a, b, c, d]) =>
      a >= view[0] &&
      b >= view[1] &&
      c <= view[2] &&
      d <= view[3] &&
      !taken.some(([e, f, g, h]) => a < g && e < c && b < h && f < d);
    let hidden = 0;
    for (const item of items) {
      const label = this.elements.get(item.id).querySelector("text");
      const words = item.state && item.state !== "done" ? `${item.label}: ${item.state}` : item.label;
      const [[x, y], [w, h], wide] = [this.px([item.x, item.y]), this.extent(item), words.length * LETTER];
      const spots = [
        [w / 2 + 6, 4],
        [-w / 2 - 6 - wide, 4],
        [-wide / 2, -h / 2 - 6],
        [-wide / 2, h / 2 + 15],
      ];
      const spot = spots.find(([dx, dy]) => free([x + dx, y + dy - 11, x + dx + wide, y + dy + 3]));
      label.textContent = spot ? words : "";
      if (!spot) {
        hidden += 1;
        continue;
      }
      label.setAttribute("x", spot[0]);
      label.setAttribute("y", spot[1]);
      taken.push([x + spot[0], y + spot[1] - 11, x + spot[0] + wide, y + spot[1] + 3]);
    }
    const texts = [];
    for (const shape of this.visible()) {
      const words = shape.kind === "text" ? shape.text : shape.label;
      if (!words) continue;
      const wide = words.length * LETTER;
      const spot = anchors(shape)
        .map((point) => this.px(point))
        .map(([x, y]) => [x - wide / 2, y - 4])
        .find(([x, y]) => free([x, y - 11, x + wide, y + 3]));
      if (!spot) {
        hidden += 1;
        continue;
      }
      texts.push(drawn("text", { x: spot[0], y: spot[1], class: "sf-label sf-shape-label" }, words));
      taken.push([spot[0], spot[1] - 11, spot[0] + wide, spot[1] + 3]);
    }
    this.shapeLabels.replaceChildren(...texts);
    this.hiddenLabels = hidden;
  }

  drawOverlay() {
    const parts = [this.scaleBar()];
    const [first, second] = this.ends();
    if (first) {
      const [[x1, y1], [x2, y2]] = [this.px(first), this.px(second ?? this.cursor ?? first)];
      parts.push(drawn("line", { x1, y1, x2, y2, class: "sf-measure" }));
    }
    const cross = ([x, y]) => drawn("path", { d: `M${x - 9} ${y}h18M${x} ${y - 9}v18`, class: "sf-cross" });
    if (this.tool && this.tool.what !== "shift" && this.cursor) parts.push(cross(this.px(this.cursor)));
    if (this.tool?.what === "points") for (const end of [first, second]) if (end) parts.push(cross(this.px(end)));
    this.overlay.replaceChildren(...parts);
  }

  // The two points of the tool on the stage, as far as they are set.
  ends() {
    const { what, from, to } = this.tool ?? {};
    return [from, to].map((end) => (end && what === "points" ? this.backdrop.onStage(end) : end));
  }

  scaleBar() {
    const { unit } = this.scene.base;
    const perUnit = this.scale / unit.per_metre;
    const rough = 80 / perUnit;
    const power = 10 ** Math.floor(Math.log10(rough));
    const count = [5, 2, 1].map((one) => one * power).find((one) => one <= rough) ?? power;
    const [mx, my] = this.px(this.middle);
    const [x, y, wide] = [mx - this.width / 2 + 12, my + this.height / 2 - 10, count * perUnit];
    return drawn(
      "g",
      {},
      drawn("path", { d: `M${x} ${y - 5}v5h${wide}v-5`, class: "sf-scale" }),
      drawn(
        "text",
        { x: x + wide + 6, y, class: "sf-label" },
        `${Number(count.toPrecision(1))} ${unit.label}`,
      ),
    );
  }

  refresh(news) {
    if (news.placed && this.tool?.role === news.placed) this.tool.placed = true;
    if (news.whole) this.chooser();
    if (news.whole) this.draw();
    for (const id of news.items || []) {
      const item = this.scene.items.get(id);
      if (!item || !this.scale) continue;
      this.drawItem(item);
      this.drawHanging(id);
    }
    if (news.items) this.readings();
    if (news.landing && this.svg.contains(document.activeElement)) {
      this.elements.get(news.landing)?.focus();
      this.select(news.landing, false);
    }
    if (news.said) this.said = news.said;
    if (news.scaled) this.backdrop.answered(news.scaled.ok, news.said);
    if (news.elsewhere) this.said = "Changed elsewhere.";
    this.status();
  }

  status() {
    const { link } = this.scene;
    this.root.dataset.state = link.state();
    putText(this.state, connectionWords(link));
    putText(this.say, this.said);
    this.rescue(this.earlier.root, !link.earlier?.length);
    this.earlier.refresh();
    const removable = Boolean(this.scene.items.get(this.selected)?.draggable);
    this.rescue(this.removeButton, !removable);
    this.removeButton.disabled = !removable;
    oneTabStop(this.tools);
  }

  focusedId() {
    return this.svg.contains(document.activeElement) ? document.activeElement.dataset.id : undefined;
  }

  readings() {
    const item = this.scene.items.get(this.focusedId() ?? this.selected);
    let text = item
      ? `${this.scene.called(item)}: ${this.scene.words(item.x, item.y)}.${item.note ? ` ${item.note}` : ""}`
      : "Nothing selected.";
    if (this.tool) text = this.toolWords();
    if (this.hiddenLabels) text += " Zoom in to see every label.";
    this.readout.textContent = text;
  }

  toolWords() {
    const { from, to, what, role, names } = this.tool;
    const end = to ?? this.cursor;
    const here = end ? ` Here: ${this.hereWords(end)}.` : "";
    if (what === "points" || what === "shift") return this.backdrop.toolWords(this.tool);
    if (what === "place") {
      const label = this.scene.base.place?.find((one) => one.role === role)?.label ?? "";
      return `${label}: press on the plan.${here} Esc, or the button again, ends.`;
    }
    if (!from)
      return `Measure: press the first point. An item counts by its middle; with Shift, the very spot counts.${here} Esc ends.`;
    if (!end) return `Measure, from ${names[0]}: press the second point.`;
    const [across, along] = [end[0] - from[0], end[1] - from[1]];
    const words = (value) => lengthWords(value, this.scene.base.unit);
    const parts = `${words(across)} across, ${words(along)} up and down stage`;
    const ends = `from ${names[0]} to ${to ? names[1] : "here"}`;
    return `Measured: ${words(Math.hypot(across, along))} (${parts}), ${ends}.`;
  }

  // Where the cross stands; while measuring also at which item.
  hereWords(spot) {
    const near = this.tool.what === "measure" && this.nearest(spot);
    return (near ? `${this.scene.called(near)}, ` : "") + this.scene.words(...spot);
  }

  // The item whose middle is nearest, if it is as near as a finger can tell.
  nearest([x, y]) {
    let [best, least] = [null, 12 / this.scale];
    for (const item of this.scene.items.values()) {
      const far = Math.hypot(item.x - x, item.y - y);
      if (far < least) [best, least] = [item, far];
    }
    return best;
  }

  // Acts.
  select(id, ask = true) {
    const before = this.selected;
    this.selected = id;
    for (const one of [before, id]) {
      const item = this.scene.items.get(one);
      if (item) this.drawItem(item);
    }
    if (ask && id) this.scene.ask({ do: "select", id });
    this.readings();
    this.status();
  }

  // Why an item stays where it is on this plan.
  stays(item, done) {
    this.said = `${this.scene.called(item)} cannot be ${done} here.${item.fixed ? ` ${item.fixed}` : ""}`;
    this.status();
  }

  remove(id = this.selected) {
    const item = this.scene.items.get(id);
    if (!item) return;
    if (!item.draggable) return this.stays(item, "removed");
    this.said = "";
    this.scene.ask({ do: "remove", id });
    if (this.selected === id) this.select(null);
  }

  take(tool) {
    this.tool = tool;
    this.cursor = tool ? [...this.middle] : null;
    this.pressing();
    this.draw();
    if (tool) this.svg.focus({ preventScroll: true });
  }

  pressing() {
    this.measureButton.setAttribute("aria-pressed", String(this.tool?.what === "measure"));
    for (const made of this.places.children)
      made.setAttribute("aria-pressed", String(this.tool?.role === made.dataset.key));
    this.root.dataset.tool = this.tool?.what ?? "";
    this.backdrop.pressing();
  }

  // A press of the tool; `exact`: the very spot, whatever stands beside it.
  point([x, y], exact) {
    if (this.tool.what === "place") return this.place(this.scene.snapped(x), this.scene.snapped(y));
    if (this.tool.what !== "measure") return this.backdrop.point([x, y]);
    const near = exact ? null : this.nearest([x, y]);
    const spot = near ? [near.x, near.y] : [x, y];
    const name = near ? this.scene.called(near) : "the spot pressed";
    if (!this.tool.from || this.tool.to) this.tool = { what: "measure", from: spot, names: [name] };
    else {
      this.tool.to = spot;
      this.tool.names.push(name);
    }
    this.drawOverlay();
    this.readings();
    this.said = this.tool.to ? this.toolWords() : `From ${name}: ${this.scene.words(...spot)}.`;
    this.status();
  }

  place(x, y) {
    const { role, line } = this.tool;
    // pressed twice while the answer is awaited: one thing has one place, and nothing is put on itself
    const twice = ({ message: one }) =>
      one.do === "place" && one.role === role && (line || Math.hypot(one.x - x, one.y - y) * this.scale < 12);
    if ((line && this.tool.placed) || this.scene.link.queue.some(twice)) return;
    this.said = "";
    this.scene.ask({ do: "place", x, y, role });
  }

  nudge(id, right, up) {
    const item = this.scene.items.get(id);
    if (!item.draggable) return this.stays(item, "moved");
    const step = this.scene.base.snap || STEP;
    this.nudged = item;
    this.scene.move(id, this.moving(item.x, right * step), this.moving(item.y, up * step), false);
  }

  // One coordinate of a move by so many metres: one that was not moved stays as it was typed.
  moving(from, by) {
    return by ? this.scene.snapped(from + by) : from;
  }

  // A run of arrow keys is one move.
  settle() {
    if (this.tool?.what === "shift" && !this.grip) this.backdrop.settle();
    if (!this.nudged) return;
    const { nudged } = this;
    this.nudged = null;
    this.finish(nudged);
    this.draw();
  }

  // Where the item stands when the hand lets go of it is its place.
  finish({ id, ...taken }) {
    const item = this.scene.items.get(id);
    if (!item) {
      this.said = `${this.scene.called(taken)} was removed elsewhere; it was not moved.`;
      this.status();
      return;
    }
    this.said = `${this.scene.called(item)}: ${this.scene.words(item.x, item.y)}.`;
    this.scene.move(item.id, item.x, item.y, true);
  }

  pressKey(event) {
    const id = event.target.dataset.id;
    const many = event.shiftKey ? 10 : 1;
    const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") {
      this.giveUp();
      this.take(null);
    } else if (this.tool?.what === "shift" && arrow) this.backdrop.nudge(arrow[0] * many, arrow[1] * many);
    else if (this.tool && arrow) {
      // a point of the background stands anywhere: a step is what the eye can tell apart
      const free = this.tool.what === "points";
      const step = (free ? 1 / this.scale : this.scene.base.snap || STEP) * many;
      const stepped = this.cursor.map((value, axis) => value + arrow[axis] * step);
      this.cursor = free ? stepped : stepped.map((value) => this.scene.snapped(value));
      this.drawOverlay();
      this.readings();
      const measuring = this.tool.what === "measure" && this.tool.from && !this.tool.to;
      this.said = `Here: ${this.hereWords(this.cursor)}.${measuring ? ` ${this.toolWords()}` : ""}`;
      this.status();
    } else if (this.tool && event.key === "Enter") this.point(this.cursor, event.shiftKey);
    else if (id !== undefined && arrow) this.nudge(id, arrow[0] * many, arrow[1] * many);
    else if (arrow) {
      this.pan(-arrow[0] * 40 * many, arrow[1] * 40 * many);
      this.draw();
    } else if (id !== undefined && (event.key === "Enter" || event.key === " ")) this.select(id);
    else if (id !== undefined && (event.key === "Delete" || event.key === "Backspace")) this.remove(id);
    else if (event.key === "+" || event.key === "=") this.zoom(1.4);
    else if (event.key === "-") this.zoom(1 / 1.4);
    else if (event.key === "0") this.fit();
    else return;
    event.preventDefault();
  }

  down(event) {
    if (event.button > 0) return;
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    this.svg.setPointerCapture(event.pointerId);
    if (this.pointers.size === 2) {
      // a second finger: whatever the first began is given up
      this.giveUp();
      this.pinch = this.spread();
      return;
    }
    const made = event.target.closest(".sf-item");
    const item = made && this.scene.items.get(made.dataset.id);
    this.grip = {
      item,
      start: [event.clientX, event.clientY],
      last: [event.clientX, event.clientY],
      moving: false,
    };
    if (made && !this.toolHas(item)) made.focus({ preventScroll: true });
  }

  // Whether a press is the tool's: while things are placed, one that stands there already can still be taken by the hand.
  toolHas(item) {
    return Boolean(this.tool) && !(this.tool.what === "place" && item?.draggable);
  }

  spread() {
    const [[x1, y1], [x2, y2]] = [...this.pointers.values()];
    return { wide: Math.hypot(x2 - x1, y2 - y1), middle: { clientX: (x1 + x2) / 2, clientY: (y1 + y2) / 2 } };
  }

  moved(event) {
    if (this.tool) {
      this.cursor = this.at(event);
      if (this.tool.what === "place") this.cursor = this.cursor.map((value) => this.scene.snapped(value));
      this.drawOverlay();
      this.readings();
    }
    if (!this.pointers.has(event.pointerId)) return;
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.pinch) {
      const now = this.spread();
      const before = this.pinch.middle;
      this.pan(now.middle.clientX - before.clientX, now.middle.clientY - before.clientY);
      this.zoom(now.wide / Math.max(this.pinch.wide, 1), this.at(now.middle));
      this.pinch = now;
      return;
    }
    const { grip } = this;
    if (!grip) return;
    const far = Math.hypot(event.clientX - grip.start[0], event.clientY - grip.start[1]);
    grip.moving ||= far > STARTED;
    if (!grip.moving) return;
    if (grip.item?.draggable && !this.toolHas(grip.item)) {
      const x = this.moving(grip.item.x, (event.clientX - grip.start[0]) / this.scale);
      const y = this.moving(grip.item.y, (grip.start[1] - event.clientY) / this.scale);
      this.scene.move(grip.item.id, x, y, false);
    } else if (this.tool?.what === "shift") {
      this.backdrop.drag(event.clientX - grip.last[0], event.clientY - grip.last[1]);
    } else {
      this.pan(event.clientX - grip.last[0], event.clientY - grip.last[1]);
    }
    grip.last = [event.clientX, event.clientY];
  }

  up(event) {
    this.pointers.delete(event.pointerId);
    if (this.pinch) {
      this.pinch = null;
      this.grip = null;
      this.draw();
      return;
    }
    const { grip } = this;
    this.grip = null;
    if (!grip) return;
    const item = grip.item && this.scene.items.get(grip.item.id);
    if (grip.moving && this.tool?.what === "shift") this.backdrop.settle();
    else if (grip.moving && grip.item?.draggable && !this.toolHas(grip.item)) this.finish(grip.item);
    else if (!grip.moving && this.toolHas(item)) this.point(this.at(event), event.shiftKey);
    else if (!grip.moving && item) this.select(item.id);
    this.draw();
  }

  cancelled(event) {
    this.pointers.delete(event.pointerId);
    this.pinch = null;
    this.giveUp();
    this.draw();
  }

  giveUp() {
    const { grip } = this;
    this.grip = null;
    this.backdrop.giveUp();
    if (grip?.moving && grip.item?.draggable && !this.toolHas(grip.item)) this.scene.restore(grip.item.id);
  }
}

export default () => {
  let scene;
  return {
    initialize({ model }) {
      scene = new Scene(model);
      return () => scene.close();
    },
    render({ el }) {
      const drawing = new Drawing(scene, el);
      drawing.status();
      scene.link.hello();
      return () => drawing.close();
    },
  };
};
