// A file from the user's disk, sent to Python in parts: one message can't carry a large file.

const PART = 1_000_000; // bytes; the server refuses messages of ten times that

function render({ model, el }) {
  const input = document.createElement("input");
  input.type = "file";
  input.accept = model.get("accept");
  const label = document.createElement("label");
  label.className = "sf-file";
  const words = document.createElement("span");
  words.textContent = model.get("label");
  label.append(words, input);
  const said = document.createElement("p");
  said.className = "sf-file-said";
  said.setAttribute("role", "status");
  el.append(label, said);

  let file = null;
  let at = 0;
  async function send() {
    try {
      const part = await file.slice(at, at + PART).arrayBuffer();
      at += part.byteLength;
      said.textContent = `Reading ${file.name}…`;
      model.send({ do: "part", last: at >= file.size }, undefined, [part]);
    } catch {
      said.textContent = `${file.name} can't be read any more; choose it again.`;
    }
  }
  input.addEventListener("change", () => {
    file = input.files[0] || null;
    if (!file) return;
    at = 0;
    if (file.size > model.get("most")) {
      said.textContent = `${file.name} has ${Math.round(file.size / 1e6)} MB; ${Math.round(model.get("most") / 1e6)} MB are the most.`;
      return;
    }
    model.send({ do: "begin", name: file.name });
    send();
  });
  const hear = (message) => {
    if (message.do === "next" && file) send();
    if (message.do === "said") {
      said.textContent = message.say;
      input.value = ""; // the same file can be chosen again
      file = null;
    }
  };
  model.on("msg:custom", hear);
  return () => model.off("msg:custom", hear);
}

export default { render };
