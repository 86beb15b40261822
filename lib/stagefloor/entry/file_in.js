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
  let timer = null;

  // An answer may still come; if it does, it takes the place of this sentence.
  function wait() {
    clearTimeout(timer);
    const { name } = file;
    timer = setTimeout(() => {
      said.textContent = `No answer about ${name} yet. If none comes, load this page again and choose the file again.`;
    }, model.get("patience"));
  }
  // A line that is down is no fault of the file: wait() says so.
  function tell(message, parts) {
    try {
      model.send(message, undefined, parts);
    } catch {
      /* nothing was sent */
    }
  }
  async function send() {
    const mine = upload;
    let part;
    try {
      part = await file.slice(at, at + PART).arrayBuffer();
    } catch {
      if (mine === upload) said.textContent = `${file.name} can't be read any more; choose it again.`;
      return;
    }
    if (mine !== upload) return;
    at += part.byteLength;
    said.textContent = `Reading ${file.name}…`;
    wait();
    tell({ do: "part", upload, last: at >= file.size }, [part]);
  }
  function begin(first) {
    file = waiting.shift();
    at = 0;
    upload += 1;
    tell({ do: "begin", upload, name: file.name, first, more: waiting.length > 0 });
    send();
  }
  input.addEventListener("change", () => {
    const chosen = [...input.files];
    if (!chosen.length) return;
    input.value = ""; // the same file can be chosen again, whatever becomes of it
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
    clearTimeout(timer);
    if (message.do === "next") send();
    if (message.do === "said" && waiting.length) {
      begin(false);
      return;
    }
    if (message.do === "said") {
      said.textContent = message.say;
      file = null;
    }
  };
  model.on("msg:custom", hear);
  return () => {
    clearTimeout(timer);
    model.off("msg:custom", hear);
  };
}

export default { render };
