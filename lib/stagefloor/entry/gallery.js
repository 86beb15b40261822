// Small pictures in a row; one of them large when it is pressed, fetched from Python only then.

function render({ model, el }) {
  const root = document.createElement("div");
  root.className = "sf-gallery";
  root.dataset.lmSuppressShortcuts = "true";
  root.tabIndex = -1;
  const list = document.createElement("ul");
  const none = document.createElement("p");
  none.className = "sf-gallery-none";
  const more = document.createElement("button");
  more.type = "button";
  more.addEventListener("click", () => model.send({ do: "more" }));
  const dialog = document.createElement("dialog");
  dialog.className = "sf-gallery-large";
  root.append(none, list, more, dialog);
  el.append(root);
  root.addEventListener("keydown", (event) => event.stopPropagation()); // the page around it has keys of its own

  let open = ""; // id of the picture that is large
  let address = "";

  const items = () => model.get("items");
  const item = (id) => items().find((one) => one.id === id);

  function draw() {
    const had = document.activeElement;
    const within = list.contains(had);
    list.replaceChildren(...items().map(tile));
    if (within) focus(had.dataset.id);
    none.textContent = items().length ? "" : model.get("none");
    const rest = model.get("rest");
    if (!rest && had === more) focus();
    more.hidden = !rest;
    more.textContent = `Show ${rest} more`;
    if (open && !item(open)) dialog.close();
  }

  // The tile of this picture, else the last one: the focus must not be lost with what is taken away.
  function focus(id = "") {
    const tiles = [...list.querySelectorAll("button:not(:disabled)")];
    (tiles.find((one) => one.dataset.id === id) ?? tiles.at(-1) ?? root).focus();
  }

  function tile(one) {
    const line = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.id = one.id;
    if (one.src) {
      const picture = document.createElement("img");
      picture.src = one.src;
      picture.alt = one.alt;
      button.append(picture);
      button.addEventListener("click", () => show(one.id));
    } else {
      button.className = "missing";
      button.textContent = one.missing;
      button.disabled = true;
    }
    const caption = document.createElement("span");
    caption.textContent = `${one.number}. ${one.caption}`;
    const about = document.createElement("small");
    about.textContent = one.about;
    line.append(button, caption, about);
    return line;
  }

  function show(id) {
    open = id;
    model.send({ do: "show", id });
    if (!dialog.open) dialog.showModal();
    fill(null, "Opening…");
  }

  function fill(source, said) {
    const one = item(open);
    if (!one) return;
    const close = action("Close", () => dialog.close());
    const shown = items().filter((other) => other.src).map((other) => other.id);
    const step = (by) => shown[(shown.indexOf(open) + by + shown.length) % shown.length];
    const buttons = document.createElement("div");
    buttons.append(close);
    if (shown.length > 1) buttons.prepend(action("Previous", () => show(step(-1))), action("Next", () => show(step(1))));
    const figure = document.createElement("figure");
    const picture = document.createElement("img");
    picture.alt = one.alt;
    if (source) picture.src = source;
    else picture.hidden = true;
    const caption = document.createElement("figcaption");
    caption.textContent = [said, `${one.number}. ${one.caption}`, one.about, one.words].filter(Boolean).join("\n");
    figure.append(picture, caption);
    const had = dialog.contains(document.activeElement) ? document.activeElement.textContent : "Close";
    dialog.setAttribute("aria-label", one.alt);
    dialog.replaceChildren(figure, buttons);
    ([...buttons.children].find((button) => button.textContent === had) || close).focus();
  }

  function action(words, act) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = words;
    button.addEventListener("click", act);
    return button;
  }

  function forget() {
    if (address) URL.revokeObjectURL(address);
    address = "";
  }

  dialog.addEventListener("keydown", (event) => {
    const words = { ArrowLeft: "Previous", ArrowRight: "Next" }[event.key];
    if (words) [...dialog.querySelectorAll("button")].find((button) => button.textContent === words)?.click();
  });
  dialog.addEventListener("close", () => {
    const last = open;
    open = "";
    forget();
    dialog.replaceChildren();
    focus(last);
  });

  const hear = (message, buffers) => {
    if (message.do !== "large" || message.id !== open) return;
    forget();
    if (message.say) {
      fill(null, message.say);
      return;
    }
    address = URL.createObjectURL(new Blob([buffers[0]], { type: message.type }));
    fill(address, "");
  };
  model.on("msg:custom", hear);
  for (const name of ["items", "rest", "none"]) model.on(`change:${name}`, draw);
  draw();
  return () => {
    model.off("msg:custom", hear);
    for (const name of ["items", "rest", "none"]) model.off(`change:${name}`, draw);
    forget();
  };
}

export default { render };
