// The items and shapes of an entry plan and its edits on their way to Python; knows no page.

const ROLES = {
  floor_box: "Floor box",
  wall_panel: "Wall panel",
  point: "Connection point",
  node: "Pull point",
  rack: "Rack",
  panel: "Mains panel",
};
const PREVIEW = 100; // milliseconds between previews of a move

function lengthWords(metres, unit) {
  const value = Math.abs(metres) * unit.per_metre;
  if (unit.format !== "ft-in") return `${value.toFixed(2)} ${unit.label}`;
  const halves = Math.round(value * 24);
  const feet = Math.floor(halves / 24);
  const inches = Math.floor((halves % 24) / 2);
  const inchWords = halves % 2 ? (inches ? `${inches} 1/2 in` : "1/2 in") : inches ? `${inches} in` : "";
  return [feet || !inchWords ? `${feet} ft` : "", inchWords].filter(Boolean).join(" ");
}

// What Python last told, with moves not answered yet laid over. Knows no page.
class Scene {
  constructor(model) {
    this.model = model;
    this.views = new Set();
    this.held = null; // the item under somebody's hand
    this.load(model.get("scene"));
    this.link = new Link(model, this);
    model.on("change:scene", () => {
      this.load(model.get("scene"));
      this.tell({ whole: true });
    });
  }

  load(scene) {
    this.base = scene;
    this.items = new Map((scene.items || []).map((item) => [item.id, item]));
    this.shapes = scene.shapes || [];
  }

  tell(news) {
    for (const view of this.views) view.refresh(news);
  }
  changed() {
    this.tell({});
  }
  prepare(message) {
    return message;
  }

  words(x, y) {
    const { unit, origin } = this.base;
    const side = (value, plus, minus, zero) => {
      const words = lengthWords(value, unit);
      return words === lengthWords(0, unit) ? `on the ${zero}` : `${words} ${value > 0 ? plus : minus}`;
    };
    return `${side(x, "stage left", "stage right", origin.x)}, ${side(y, "upstage", "downstage", origin.y)}`;
  }

  called(item) {
    return `${ROLES[item.role] ?? "Item"} ${item.label}`;
  }

  snapped(value) {
    const { snap } = this.base;
    return snap ? Math.round(value / snap) * snap : value;
  }

  put(id, x, y) {
    const item = this.items.get(id);
    if (item) this.items.set(id, { ...item, x, y });
  }

  move(id, x, y, last) {
    this.held = last ? null : { id, x, y };
    this.put(id, x, y);
    const now = performance.now();
    if (last || (!this.link.silent && now - (this.previewed ?? 0) > PREVIEW)) {
      this.previewed = now;
      this.link.post({ do: last ? "move" : "preview", id, x, y }, (before, next) => {
        if (before.id !== next.id || !(before.do === "preview" || before.do === next.do)) return false;
        return ["preview", "move"].includes(before.do) && Object.assign(before, next);
      });
    }
    this.tell({ items: [id] });
  }

  // A move given up half way: the job never heard of it, only the outlines must follow back.
  restore({ id, x, y }) {
    this.held = null;
    this.put(id, x, y);
    this.link.post({ do: "preview", id, x, y });
    this.tell({ items: [id] });
  }

  ask(message) {
    this.link.post(message);
  }

  answered(answer, asked) {
    const landing = asked.do === "place" ? answer.items?.find((item) => !this.items.has(item.id))?.id : null;
    this.take(answer, { said: answer.say, landing });
  }

  told(message) {
    if (message.do === "whole") {
      if (
        JSON.stringify(message.scene) ===
        JSON.stringify({ ...this.base, items: [...this.items.values()], shapes: this.shapes })
      )
        return;
      this.load(message.scene);
      this.layOver();
      this.tell({ whole: true });
    } else if (message.do === "restored") {
      this.layOver();
      this.tell({ whole: true });
    } else {
      this.take(message, { elsewhere: message.elsewhere });
    }
  }

  take(answer, news) {
    if (answer.base) this.base = { ...this.base, ...answer.base };
    for (const item of answer.items || []) this.items.set(item.id, item);
    for (const id of answer.removed || []) this.items.delete(id);
    for (const part of answer.shapes || []) {
      this.shapes = [...this.shapes.filter((shape) => shape.layer !== part.replace_layer), ...part.shapes];
    }
    this.layOver();
    this.tell({ ...news, whole: true, layers: Boolean(answer.base) });
  }

  layOver() {
    for (const { message } of this.link.queue)
      if (message.do === "move") this.put(message.id, message.x, message.y);
    if (this.held) this.put(this.held.id, this.held.x, this.held.y);
  }
}
