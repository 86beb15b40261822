// Photos, made smaller on the phone and kept in its database, and sketches with dimensions.

const LONGEST_SIDE = 1600; // points of a photo
const FIELD = [1000, 750]; // a sketch's own units

const photos = {
  memory: new Map(),
  opening: null, // the browser may close a connection at any time: then it is forgotten, and asked for anew
  open() {
    this.opening ??= new Promise((done) => {
      const asked = indexedDB.open(KEPT, 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("photos");
      asked.onsuccess = () => {
        asked.result.onclose = asked.result.onversionchange = () => this.forget(asked.result);
        done(asked.result);
      };
      asked.onerror = () => done(null);
    }).catch(() => null).then((base) => {
      if (!base) this.opening = null;
      return base;
    });
    return this.opening;
  },
  forget(base) {
    this.opening = null;
    base.close();
  },
  async run(mode, act) {
    const base = await this.open();
    if (!base) return null;
    try {
      return await this.once(base, mode, act);
    } catch {
      this.forget(base);
      const anew = await this.open();
      return anew ? this.once(anew, mode, act) : null;
    }
  },
  once(base, mode, act) {
    return new Promise((done, fail) => {
      const work = base.transaction("photos", mode);
      const asked = act(work.objectStore("photos"));
      work.oncomplete = () => done(asked.result);
      work.onabort = work.onerror = () => fail(work.error);
    });
  },
  async put(id, photo) {
    this.memory.set(id, photo);
    if (!(await this.open())) return false;
    await this.run("readwrite", (store) => store.put(photo, id));
    return true;
  },
  // null: it can't be read now
  async get(id) {
    try {
      return this.memory.get(id) ?? (await this.run("readonly", (store) => store.get(id))) ?? null;
    } catch {
      return null;
    }
  },
  async remove(id) {
    this.memory.delete(id);
    await this.run("readwrite", (store) => store.delete(id));
  },
};

async function smaller(file) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const canvas = el("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return canvas.toDataURL("image/jpeg", 0.8); // a new picture: the camera's own data stay behind
}

// Photos and, if wanted, sketches of one subject. `about`: the words under which the workbook lists them.
function pictureField(about, { sketches = false } = {}) {
  const shown = el("div", { class: "pictures" });
  const said = el("p", { class: "said bad", role: "status" });
  const input = el("input", { type: "file", accept: "image/*", multiple: true, "aria-label": `Add a photo: ${about}` });
  input.addEventListener("change", async () => {
    said.textContent = "";
    for (const file of input.files) {
      try {
        const photo = await smaller(file);
        const id = newName("photo");
        const kept = await photos.put(id, photo);
        state.pictures.push({ id, about, label: "", size: photo.length });
        keep();
        const files = parts().length;
        if (!kept) said.textContent = "This browser can't keep photos: export before you close this page.";
        else if (files > 1) said.textContent = `The photos need ${files} files by now: export asks you to save each.`;
      } catch {
        said.textContent = `${file.name} could not be read as a photo, or there is no room for it on this phone.`;
      }
    }
    input.value = "";
    draw();
  });

  function figure(one, picture, edit) {
    const caption = el("input", { type: "text", "aria-label": `Caption: ${about}`, placeholder: "Caption" });
    caption.maxLength = 300;
    caption.value = one.label;
    caption.addEventListener("input", () => {
      one.label = caption.value;
      keep();
    });
    return el("figure", {}, picture, caption, edit, sure("Remove", (words) => (said.textContent = words), () => {
      const list = state.pictures.includes(one) ? state.pictures : state.sketches;
      list.splice(list.indexOf(one), 1);
      photos.remove(one.id).catch(() => null); // nothing leads to it any more
      keep();
      draw();
    }));
  }

  async function draw() {
    const made = [];
    for (const one of state.pictures.filter((picture) => picture.about === about)) {
      const photo = await photos.get(one.id);
      made.push(figure(one, photo ? el("img", { src: photo, alt: one.label || `Photo: ${about}` })
        : el("p", { class: "said bad" }, "This photo can't be read now: open the sheet again."), null));
    }
    for (const one of state.sketches.filter((sketch) => sketch.about === about)) {
      const picture = el("img", { src: sketchPicture(one), alt: one.label || `Sketch: ${about}` });
      made.push(figure(one, picture, button("Draw on", () => openSketch(one, draw))));
    }
    shown.replaceChildren(...made);
  }

  draw();
  const buttons = el("div", { class: "buttons" }, el("span", { class: "button file" }, "Photo", input));
  if (sketches)
    buttons.append(
      button("Sketch", () => openSketch({ id: newName("sketch"), about, label: "", strokes: [], dimensions: [] }, draw)),
    );
  return el("div", {}, shown, said, buttons);
}

// --- sketch: draw with the finger; a dimension is two taps and a typed length

function paint(canvas, sketch, waiting = null) {
  const context = canvas.getContext("2d");
  context.setTransform(canvas.width / FIELD[0], 0, 0, canvas.height / FIELD[1], 0, 0);
  context.fillStyle = "#fff";
  context.fillRect(0, 0, ...FIELD);
  context.lineCap = context.lineJoin = "round";
  context.strokeStyle = "#1d2733";
  context.lineWidth = 5;
  for (const stroke of sketch.strokes) {
    context.beginPath();
    stroke.forEach(([x, y], number) => (number ? context.lineTo(x, y) : context.moveTo(x, y)));
    if (stroke.length === 1) context.lineTo(...stroke[0]);
    context.stroke();
  }
  context.fillStyle = context.strokeStyle = "#8a3b12";
  const dot = ([x, y]) => {
    context.beginPath();
    context.arc(x, y, 8, 0, 7);
    context.fill();
  };
  if (waiting) dot(waiting);
  sketch.dimensions.forEach(({ from, to, text }, number) => {
    context.lineWidth = 3;
    context.beginPath();
    context.moveTo(...from);
    context.lineTo(...to);
    context.stroke();
    dot(from);
    dot(to);
    context.font = "600 34px sans-serif";
    context.textAlign = "center";
    context.lineWidth = 9;
    context.strokeStyle = "#fff";
    const words = `${number + 1}: ${text}`;
    const place = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2 - 12];
    context.strokeText(words, ...place);
    context.fillText(words, ...place);
    context.strokeStyle = "#8a3b12";
  });
}

function sketchPicture(sketch) {
  const canvas = el("canvas");
  [canvas.width, canvas.height] = [500, 375];
  paint(canvas, sketch);
  return canvas.toDataURL("image/png");
}

function openSketch(sketch, done) {
  const canvas = el("canvas", { role: "img", "aria-label": "Drawing field: draw with one finger" });
  [canvas.width, canvas.height] = FIELD;
  const list = el("div");
  const said = el("p", { class: "soft", role: "status" });
  const box = el("dialog", { "aria-label": `Sketch: ${sketch.about}` });
  let mode = "draw";
  let stroke = null;
  let first = null;
  let room = 0; // points that still go into it

  const place = (event) => {
    const frame = canvas.getBoundingClientRect();
    const part = [(event.clientX - frame.left) / frame.width, (event.clientY - frame.top) / frame.height];
    return part.map((share, axis) => Math.round(Math.min(Math.max(share, 0), 1) * FIELD[axis]));
  };
  const points = () => sketch.strokes.reduce((sum, { length }) => sum + length, 0);
  const full = () =>
    mode === "draw"
      ? sketch.strokes.length >= limits.strokes || points() >= limits.points
      : sketch.dimensions.length >= limits.dimensions;
  const save = () => {
    if (!state.sketches.includes(sketch)) state.sketches.push(sketch);
    keep();
  };
  const refresh = () => {
    paint(canvas, sketch, first);
    said.className = full() ? "said bad" : "soft";
    said.textContent = full()
      ? `This sketch is full, it has ${mode === "draw" ? "all the lines" : several(limits.dimensions, "dimension")} that one can hold. Begin another one.`
      : mode === "draw" ? "Draw with one finger." : first ? "Now tap where it ends." : "Tap where the dimension begins.";
    list.replaceChildren(
      ...sketch.dimensions.map((one, number) =>
        textField(`Dimension ${number + 1}`, one.text, (text) => {
          one.text = text;
          paint(canvas, sketch, first);
          save();
        }, { placeholder: given.unit === "ft" ? "12' 6 1/2\"" : "3.81 m" }),
      ),
    );
  };
  canvas.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    if (full()) return refresh();
    if (mode === "draw") {
      canvas.setPointerCapture(event.pointerId);
      stroke = [place(event)];
      room = limits.points - points() - 1;
      sketch.strokes.push(stroke);
    } else if (!first) {
      first = place(event);
    } else {
      sketch.dimensions.push({ from: first, to: place(event), text: "" });
      first = null;
      save();
      refresh();
      list.querySelector("label:last-child input").focus();
      return;
    }
    refresh();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!stroke) return;
    const [x, y] = place(event);
    const [lastX, lastY] = stroke[stroke.length - 1];
    if (Math.hypot(x - lastX, y - lastY) < 4 || (room -= 1) < 0) return; // enough points for a line, no more
    stroke.push([x, y]);
    paint(canvas, sketch);
  });
  for (const end of ["pointerup", "pointercancel"])
    canvas.addEventListener(end, () => {
      if (stroke) save();
      stroke = null;
    });
  box.append(
    el("h2", {}, sketch.about),
    choices("Tap to", [["draw", "Draw"], ["dimension", "Add a dimension"]], mode, (chosen) => {
      mode = chosen;
      first = null;
      refresh();
    }),
    said,
    canvas,
    list,
    el("div", { class: "buttons" },
      button("Take back the last line", () => {
        sketch.strokes.pop();
        save();
        refresh();
      }),
      button("Take back the last dimension", () => {
        sketch.dimensions.pop();
        first = null;
        save();
        refresh();
      }),
      button("Done", () => box.close(), "main")),
  );
  box.addEventListener("close", () => {
    box.remove();
    done();
  });
  document.body.append(box);
  refresh();
  box.showModal();
}
