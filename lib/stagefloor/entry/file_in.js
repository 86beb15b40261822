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
  let upload = 0; // the file that is on its way: what is said of an earlier one counts no more
  async function send() {
    const mine = upload;
    try {
      const part = await file.slice(at, at + PART).arrayBuffer();
      if (mine !== upload) return;
      at += part.byteLength;
      said.textContent = `Reading ${file.name}…`;
      model.send({ do: "part", upload, last: at >= file.size }, undefined, [part]);
    } catch {
      if (mine === upload) said.textContent = `${file.name} can't be read any more; choose it again.`;
    }
  }
  function begin(first) {
    file = waiting.shift();
    at = 0;
    upload += 1;
    model.send({ do: "begin", upload, name: file.name, first, more: waiting.length > 0 });
    send();
  }
  input.addEventListener("change", () => {
    const chosen = [...input.files];
    if (!chosen.length) return;
    const large = chosen.find((one) => one.size > model.get("most"));
    if (large) {
      said.textContent = `${large.name} has ${Math.round(large.size / 1e6)} MB; ${Math.round(model.get("most") / 1e6)} MB are the most.`;
      return;
    }
    waiting = chosen;
    begin(true);
  });
  const hear = (message) => {
    if (message.upload !== upload || !file) return;
    if (message.do === "next") send();
    if (message.do === "said" && waiting.length) {
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
