// A file from the user's disk, sent to Python in parts: one message can't carry a large file.

const PART = 1_000_000; // bytes; the server refuses messages of ten times that

function render({ model, el }) {
  const input = document.createElement("input");
  input.type = "file";
  input.accept = model.get("accept");
  input.multiple = model.get("several");
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
  let waiting = []; // files that were chosen together with it
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
  function begin(first) {
    file = waiting.shift();
    at = 0;
    model.send({ do: "begin", name: file.name, first, more: waiting.length > 0 });
    send();
  }
  input.addEventListener("change", () => {
    waiting = [...input.files];
    if (!waiting.length) return;
    const large = waiting.find((one) => one.size > model.get("most"));
    if (large) {
      said.textContent = `${large.name} has ${Math.round(large.size / 1e6)} MB; ${Math.round(model.get("most") / 1e6)} MB are the most.`;
      return;
    }
    begin(true);
  });
  const hear = (message) => {
    if (message.do === "next" && file) send();
    if (message.do === "said" && file && waiting.length) {
      begin(false);
      return;
    }
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
