// The items and shapes of an entry plan and its edits on their way to Python; knows no page.

const ROLES = {
  floor_box: "Floor box",
  wall_panel: "Wall panel",
  point: "Connection point",
  node: "Pull point",
  rack: "Rack",
  panel: "Mains panel",
};

function lengthWords(metres, unit) {
  const value = Math.abs(metres) * unit.per_metre;
  if (unit.format !== "ft-in") return `${value.toFixed(2)} ${unit.label}`;
  const halves = Math.round(value * 24);
  const feet = Math.floor(halves / 24);
  const inches = Math.floor((halves % 24) / 2);
  const inchWords = halves % 2 ? (inches ? `${inches} 1/2 in` : "1/2 in") : inches ? `${inches} in` : "";
  return [feet || !inchWords ? `${feet} ft` : "", inchWords].filter(Boolean).join(" ");
}

// The shape with what hangs on an item at the item's place: `follow` names the item of a circle, `ends` those of a line.
function followed(shape, id, x, y) {
  if (shape.follow === id) return { ...shape, center: [x, y] };
  if (!shape.ends?.includes(id)) return shape;
  return { ...shape, points: shape.points.map((point, n) => (shape.ends[n] === id ? [x, y] : point)) };
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
    this.backing = null; // what lies behind the plan
    this.hear = (message, buffers) => message.do === "backing" && this.back(message, buffers[0]);
    model.on("msg:custom", this.hear);
  }

  close() {
    this.link.close();
    this.model.off("msg:custom", this.hear);
    this.backing?.close();
  }

  back(message, buffer) {
    if (this.backing?.file === message.file) return;
    this.backing?.close();
    this.backing = new Backing(message, buffer);
    this.tell({ whole: true });
  }

  load(scene) {
    this.base = scene;
    this.items = new Map((scene.items || []).map((item) => [item.id, item]));
    this.known = new Map(this.items); // where each stands by what Python told last
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

  // An item stands elsewhere, and what hangs on it goes along: its outlines, the ends of its cables.
  put(id, x, y) {
    const item = this.items.get(id);
    if (!item) return;
    this.items.set(id, { ...item, x, y });
    this.shapes = this.shapes.map((shape) => followed(shape, id, x, y));
  }

  move(id, x, y, last) {
    if (!this.items.has(id)) return;
    this.held = last ? null : { id, x, y };
    this.put(id, x, y);
    if (last) {
      this.link.post(
        { do: "move", id, x, y },
        (before, next) => before.do === "move" && before.id === next.id && Object.assign(before, next),
      );
    } else this.link.ask({ do: "preview", id, x, y });
    this.tell({ items: [id] });
  }

  replied(answer) {
    this.take(answer, { said: answer.say });
  }

  // A move given up half way: the job never heard of it, only what was shown must follow to where it stands by now.
  restore(id) {
    this.held = null;
    const told = this.known.get(id);
    if (!told) return;
    this.put(id, told.x, told.y);
    this.layOver();
    const { x, y } = this.items.get(id);
    this.link.ask({ do: "preview", id, x, y });
    this.tell({ items: [id] });
  }

  ask(message) {
    this.link.post(message);
  }

  answered(answer, asked) {
    const placed = asked.do === "place" && answer.ok ? asked.role : null;
    const landing = placed ? answer.items?.find((item) => !this.items.has(item.id))?.id : null;
    const scaled = asked.do === "scale" ? { ok: answer.ok } : null;
    this.take(answer, { said: answer.say, landing, placed, scaled });
  }

  told(message) {
    if (message.do === "backing") return;
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
    for (const item of answer.items || []) {
      this.items.set(item.id, item);
      this.known.set(item.id, item);
    }
    for (const id of answer.removed || []) {
      this.items.delete(id);
      this.known.delete(id);
    }
    for (const part of answer.shapes || []) {
      this.shapes = [...this.shapes.filter((shape) => shape.layer !== part.replace_layer), ...part.shapes];
    }
    this.layOver();
    const plain = !answer.removed?.length && !answer.shapes?.length && !answer.items?.length;
    const base = Object.keys(answer.base || {}).length > 0;
    this.tell({ ...news, whole: !plain || base, layers: base });
  }

  layOver() {
    if (this.held && !this.items.has(this.held.id)) this.held = null; // removed elsewhere, out of the hand
    for (const { message } of this.link.queue)
      if (message.do === "move") this.put(message.id, message.x, message.y);
    if (this.held) this.put(this.held.id, this.held.x, this.held.y);
  }
}
