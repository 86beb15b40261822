// The export: everything that was entered so far, under the sheet's own names, in one file or as many as can be taken in.

// what names an entry or comes by itself is not yet something that was entered
const BY_ITSELF = ["topic", "circuit", "test", "box", "by", "date", "instrument"];

// what was sent once is sent on, so that what was set back or emptied since is told too
function entered() {
  return state.entries.filter((entry) => entry.sent ||
    Object.entries(entry.fields).some(([name, text]) =>
      entry.to || Object.keys(entry.was).length
        ? Object.hasOwn(entry.was, name) && text !== entry.was[name]
        : text && !BY_ITSELF.includes(name) && !(name === "looked" && text === given.states[0]) && !(name === "modified" && text === "no"),
    ),
  );
}

// The files of an export: all that was typed stands in each, photos and sketches are shared out so that each can be taken in.
function parts() {
  const typed = JSON.stringify(state.entries).length;
  const found = [];
  const put = (list, one, size) => {
    const last = found.at(-1);
    if (last && last.size + size < limits.bytes * 0.75 && last[list].length < limits.pictures) {
      last.size += size;
      last[list].push(one);
    } else found.push({ size: typed + size, pictures: [], sketches: [], [list]: [one] });
  };
  for (const one of state.pictures) put("pictures", one, one.size || 500_000);
  for (const one of state.sketches) put("sketches", one, JSON.stringify(one).length * 8); // many small parts to be read
  return found.length ? found : [{ pictures: [], sketches: [] }];
}

// `place`: where the parts are offered if there are several
async function exportFile(place, finish = (entry) => entry) {
  const all = parts();
  const [number, before] = [state.exported + 1, edits];
  const left = new Set(all.keys());
  const missing = new Map();
  state.exported = number;
  const save = async (part) => {
    try {
      missing.set(part, await saveFile(all, part, number, finish));
      left.delete(part);
    } catch {
      fault = "The export failed, no file was made: close other pages and export again.";
      return keep(false);
    }
    const gone = [...missing.values()].reduce((sum, many) => sum + many, 0);
    fault = left.size
      ? `Not all of it is exported: ${several(left.size, "part")} of ${all.length} still to be saved.`
      : gone
        ? `${several(gone, "photo")} can't be read now and ${gone === 1 ? "is" : "are"} not in the file: open the sheet again, export again.`
        : "";
    if (!fault && edits === before) state.changed = false; // what was typed meanwhile is for the next one
    keep(false);
  };
  place.replaceChildren();
  if (all.length === 1) return save(0);
  fault = `Not all of it is exported: ${all.length} parts to be saved.`;
  place.append(el("p", {}, `The photos need ${all.length} files. Save each of them and send them all.`),
    ...all.map((_, part) => {
      const words = `part ${part + 1} of ${all.length}`;
      const made = button(`Save ${words}`, async () => {
        await save(part);
        if (!left.has(part)) made.textContent = `Saved: ${words}`;
      });
      return el("div", { class: "buttons" }, made);
    }));
  place.scrollIntoView({ block: "center" });
  keep(false);
}

// One file of an export to the phone's downloads; how many of its photos could not be read
async function saveFile(all, part, number, finish) {
  const pictures = [];
  for (const { id, about, label } of all[part].pictures) {
    const photo = await photos.get(id);
    if (photo) pictures.push({ id, about, label, data: photo.slice(photo.indexOf(",") + 1) });
  }
  const sent = entered();
  const entries = sent.map(({ id, on, to, fields, was }) => finish({ id, on, to, fields, was }));
  const file = {
    stagefloor_sheet: 1, kind, sheet: given.sheet, phone: state.phone, export: number, part: part + 1, parts: all.length,
    by: state.by, date: today(), entries, pictures, sketches: all[part].sketches,
  };
  const words = `${kind}-${given.venue}`.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 40);
  const which = all.length > 1 ? `-part-${part + 1}-of-${all.length}` : "";
  const address = URL.createObjectURL(new Blob([JSON.stringify(file)], { type: "application/json" }));
  const link = el("a", { href: address, download: `${words}-${given.sheet.slice(0, 4)}-${number}${which}.json` });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
  for (const entry of sent) entry.sent = true;
  return all[part].pictures.length - pictures.length;
}
