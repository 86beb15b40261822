// The background of an entry plan: drawn under everything, scaled by two points, moved and turned by hand or keys.

const STRENGTHS = [
  ["faint", 0.2],
  ["light", 0.4],
  ["clear", 0.65],
  ["full", 1],
  ["inverted, for a dark sheet", 0.65, "invert(1)"],
];

// The bytes as something to draw: a picture's address, or the one path that all outlines make. Numbers only.
class Backing {
  constructor({ file, type }, buffer) {
    this.file = file;
    if (type === "application/json") {
      const { lines } = JSON.parse(new TextDecoder().decode(buffer));
      const joined = (line) => `M${line.slice(0, 2).map(Number)}L${line.slice(2).map(Number)}`;
      this.path = lines.map(joined).join("");
    } else this.address = URL.createObjectURL(new Blob([buffer], { type }));
  }

  drawn([wide, high]) {
    return this.path
      ? drawn("path", { d: this.path, class: "sf-back-line" })
      : drawn("image", { href: this.address, width: wide, height: high, preserveAspectRatio: "none" });
  }

  close() {
    if (this.address) URL.revokeObjectURL(this.address);
  }
}

class Backdrop {
  constructor(drawing) {
    this.drawing = drawing;
    this.by = [0, 0]; // metres, while it is under the hand
    this.layer = drawn("g", { class: "sf-back", "aria-hidden": "true" });
    this.words = element("p", { class: "sf-back-words" });
    this.strength = element("select", {}, ...STRENGTHS.map(([name]) => element("option", {}, name)));
    this.strength.selectedIndex = 2;
    this.strength.addEventListener("change", () => {
      this.chosen = true;
      this.draw();
    });
    this.pointsButton = button("Set two points", () => this.take("points"));
    this.moveButton = button("Move background", () => this.take("shift"));
    this.edits = element(
      "span",
      { class: "sf-places" },
      this.pointsButton,
      this.moveButton,
      button("Turn by 90°", () => drawing.scene.ask({ do: "turn", file: this.told.file })),
    );
    this.choose = element("label", {}, "Strength ", this.strength);
    this.root = element(
      "div",
      { class: "sf-backing", hidden: "" },
      this.words,
      element("div", { class: "sf-tools" }, this.choose, this.edits),
      this.buildForm(),
    );
  }

  buildForm() {
    const field = ([words, whole = words]) => {
      const input = element("input", { type: "text", autocomplete: "off", maxlength: 60, "aria-label": whole });
      input.addEventListener("keydown", (event) => {
        if (event.key === "Enter") this.send();
        if (event.key === "Escape") this.leave();
      });
      return [input, element("label", {}, `${words} `, input)];
    };
    const fields = [
      ["Between the two points"],
      ["First point: across", "First point across"],
      ["up", "First point up"],
      ["Second point: across", "Second point across"],
      ["up", "Second point up"],
    ].map(field);
    this.inputs = fields.map(([input]) => input);
    const labels = fields.map(([, label]) => label);
    this.said = element("p", { class: "sf-back-said", role: "alert" });
    this.form = element(
      "div",
      { class: "sf-two", hidden: "", role: "group", "aria-label": "Two points of the background" },
      element("div", { class: "sf-tools" }, labels[0]),
      element(
        "details",
        {},
        element("summary", {}, "Where the points lie on the stage, if you know it"),
        element("p", {}, "Both points: the background is turned too. Left empty: the first stays where it is."),
        element("div", { class: "sf-tools" }, ...labels.slice(1, 3)),
        element("div", { class: "sf-tools" }, ...labels.slice(3)),
      ),
      element(
        "div",
        { class: "sf-tools" },
        button("Scale it", () => this.send()),
        button("Leave it", () => this.leave()),
      ),
      this.said,
    );
    return this.form;
  }

  get told() {
    return this.drawing.scene.base.background;
  }

  get shown() {
    const { scene, off } = this.drawing;
    return this.told?.file && scene.backing?.file === this.told.file && !off.has("background");
  }

  chooser() {
    this.drawing.rescue(this.root, !this.told);
    this.root.hidden = !this.told;
    putText(this.words, this.told ? (this.told.problem ?? `${this.told.label}: ${this.told.words}`) : "");
    this.words.classList.toggle("sf-back-problem", Boolean(this.told?.problem));
    this.choose.hidden = !this.told?.file;
    this.edits.hidden = !this.told?.editable;
    // what was begun on one background is not of another that lies there now
    if (this.tooled && (!this.told?.editable || this.told.file !== this.of)) this.drawing.take(null);
    const { unit } = this.drawing.scene.base;
    this.inputs[0].placeholder = unit.format === "ft-in" ? "12' 6\"" : "3.81 m";
  }

  draw() {
    const { scale, root } = this.drawing;
    root.classList.toggle("sf-backed", Boolean(this.shown));
    if (!this.shown) {
      this.layer.replaceChildren();
      this.made = null;
      return;
    }
    const { backing } = this.drawing.scene;
    if (this.made?.backing !== backing) {
      this.made = { backing, element: backing.drawn(this.told.size) };
      if (!this.chosen) this.strength.selectedIndex = backing.path ? 3 : 2; // thin lines cover little
      this.layer.replaceChildren(this.made.element);
    }
    const [, opacity, filter = ""] = STRENGTHS[this.strength.selectedIndex];
    Object.assign(this.layer.style, { opacity, filter: backing.path ? "" : filter });
    const [p, q, x, y] = this.told.way;
    const high = this.told.size[1];
    const [e, f] = [x - q * high + this.by[0], y + p * high + this.by[1]];
    // y counts down in the file and on the screen, up on the stage
    const matrix = [p, -q, q, p, e, -f].map((value) => value * scale);
    this.made.element.setAttribute("transform", `matrix(${matrix.join(" ")})`);
  }

  // Tools.
  get tooled() {
    const what = this.drawing.tool?.what;
    return what === "points" || what === "shift" ? what : null;
  }

  take(what) {
    this.form.hidden = true;
    this.of = this.told.file;
    if (this.drawing.off.delete("background")) this.drawing.chooser(); // what is to be pressed must be seen
    this.drawing.take(this.tooled === what ? null : { what });
    this.drawing.frame.scrollIntoView({ block: "nearest" });
  }

  pressing() {
    this.pointsButton.setAttribute("aria-pressed", String(this.tooled === "points"));
    this.moveButton.setAttribute("aria-pressed", String(this.tooled === "shift"));
    if (this.tooled) return;
    this.drawing.rescue(this.form);
    this.form.hidden = true;
  }

  // From points of the file to the stage, metres, and back: a spot that was pressed is one of the file, wherever it lies.
  onStage([u, v]) {
    const [p, q, x, y] = this.told?.way ?? [1, 0, 0, 0];
    return [p * u - q * v + x, q * u + p * v + y];
  }

  onFile([x, y]) {
    const [p, q, e, f] = this.told.way;
    const [right, up, square] = [x - e, y - f, p * p + q * q];
    return [(p * right + q * up) / square, (p * up - q * right) / square];
  }

  point(pressed) {
    if (this.tooled !== "points") return;
    const { tool } = this.drawing;
    const spot = this.onFile(pressed);
    if (!tool.from || tool.to) this.drawing.tool = { what: "points", from: spot };
    else tool.to = spot;
    const both = Boolean(this.drawing.tool.to);
    this.form.hidden = !both;
    putText(this.said, "");
    this.drawing.drawOverlay();
    this.drawing.readings();
    if (!both) return;
    this.form.scrollIntoView({ block: "nearest" });
    this.inputs[0].focus({ preventScroll: true });
  }

  toolWords({ from, to }) {
    if (this.tooled === "shift")
      return "Drag the background, or move it with the arrow keys (Shift: ten steps). Esc ends.";
    const place = this.drawing.cursor && ` Here: ${this.drawing.scene.words(...this.drawing.cursor)}.`;
    if (!from)
      return `Press the first of two points that are far apart on the background, or set it with arrow keys and Enter.${place ?? ""} Esc ends.`;
    if (!to) return `First point set. Press the second one.${place ?? ""}`;
    return "Both points set: type below what lies between them. Press again to choose others.";
  }

  send() {
    const { tool, scene } = this.drawing;
    if (!tool?.to) return;
    if (this.sent) {
      putText(this.said, "The first press is not answered yet; nothing was sent again.");
      return;
    }
    const [distance, ...rest] = this.inputs.map((input) => input.value);
    this.sent = tool;
    scene.ask({
      do: "scale",
      file: this.of,
      points: [tool.from, tool.to],
      distance,
      first: rest.slice(0, 2),
      second: rest.slice(2),
    });
  }

  leave() {
    this.form.hidden = true;
    this.drawing.take(null);
    this.pointsButton.focus();
  }

  answered(ok, words) {
    if (!this.sent) return;
    const mine = this.drawing.tool === this.sent; // else something else was begun meanwhile
    this.sent = null;
    putText(this.said, ok ? "" : words);
    if (!ok) return;
    for (const input of this.inputs) input.value = "";
    if (mine) this.leave();
  }

  // Under the hand.
  drag(right, down) {
    const { scale } = this.drawing;
    this.by = [this.by[0] + right / scale, this.by[1] - down / scale];
    this.draw();
  }

  nudge(right, up) {
    const step = this.drawing.scene.base.snap || STEP;
    this.by = [this.by[0] + right * step, this.by[1] + up * step];
    this.draw();
  }

  // A drag, or a run of arrow keys, is one move; it stays where it was dropped until it is answered.
  settle() {
    const [x, y] = this.by;
    if (!x && !y) return;
    const { base } = this.drawing.scene;
    const [p, q, e, f] = base.background.way;
    base.background = { ...base.background, way: [p, q, e + x, f + y] };
    this.by = [0, 0];
    this.drawing.scene.ask({ do: "shift", file: base.background.file, x, y });
  }

  giveUp() {
    this.by = [0, 0];
    this.draw();
  }
}
