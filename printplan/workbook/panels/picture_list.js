// Things with their pictures, of which one is chosen: by mouse, or by arrow keys and
// Enter. Only pictures that come into sight are asked for.

function render({ model, el }) {
  const list = document.createElement("div");
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", model.get("label"));
  list.className = `printplan-pictures printplan-pictures-${model.get("form")}`;
  el.append(list);
  const shown = new Map(); // what stands in the list, by its key
  const known = new Map(); // pictures and words that came
  let frame = 0;

  const sight = new IntersectionObserver((entries) => {
    for (const entry of entries) entry.target.isInSight = entry.isIntersecting;
    if (!frame) frame = requestAnimationFrame(ask);
  }, { root: list, rootMargin: "120px" });

  function ask() {
    frame = 0;
    const keys = [...shown]
      .filter(([key, node]) => node.isInSight && node.hasPicture && !known.has(key))
      .map(([key]) => key);
    if (keys.length) model.send({ event: "show", keys });
  }

  function part(node, kind, words) {
    const made = document.createElement(kind === "picture" ? "div" : "span");
    made.className = `printplan-pictures-${kind}`;
    if (words) made.textContent = words;
    node.append(made);
    return made;
  }

  function item(it) {
    const node = document.createElement("div");
    node.setAttribute("role", "option");
    node.setAttribute("data-lm-suppress-shortcuts", "true");
    node.className = `printplan-pictures-item${it.picture ? "" : " printplan-pictures-plain"}`;
    node.tabIndex = -1;
    node.hasPicture = it.picture;
    node.photograph = it.photograph;
    node.picture = part(node, "picture");
    node.picture.setAttribute("aria-hidden", "true");
    if (!it.picture && it.sign === "folder") part(node.picture, "folder");
    else if (!it.picture) node.picture.textContent = "!";
    const told = document.createElement("div");
    told.className = "printplan-pictures-told";
    part(told, "name", it.name);
    if (it.words) part(told, "words", it.words);
    node.append(told);
    node.addEventListener("click", () => choose(it.key));
    node.addEventListener("dblclick", () => model.send({ event: "act", key: it.key }));
    return node;
  }

  function choose(key) {
    for (const [other, node] of shown) node.tabIndex = other === key ? 0 : -1;
    model.set("value", key);
    model.save_changes();
    model.send({ event: "pick", key }); // also what is chosen already
  }

  function put(key) {
    const node = shown.get(key);
    const found = known.get(key);
    if (!node || !found) return;
    if (found.url) {
      const image = document.createElement("img");
      image.alt = node.photograph;
      image.src = found.url;
      node.picture.replaceChildren(image);
    } else {
      node.picture.textContent = "cannot be read";
    }
    if (found.words) node.title = found.words;
  }

  function build() {
    const hadFocus = list.contains(document.activeElement);
    sight.disconnect();
    shown.clear();
    for (const it of model.get("items")) shown.set(it.key, item(it));
    for (const [key, { url }] of known) {
      if (shown.has(key)) continue;
      if (url) URL.revokeObjectURL(url);
      known.delete(key);
    }
    list.replaceChildren(...shown.values());
    for (const [key, node] of shown) {
      put(key);
      sight.observe(node);
    }
    mark();
    if (hadFocus) list.querySelector('[tabindex="0"]')?.focus();
  }

  function mark() {
    const value = model.get("value");
    const nodes = [...shown.values()];
    const chosen = shown.get(value);
    for (const node of nodes) {
      node.setAttribute("aria-selected", `${node === chosen}`);
      node.tabIndex = -1;
    }
    const first = chosen ?? nodes[0];
    if (first) first.tabIndex = 0;
    chosen?.scrollIntoView({ block: "nearest" });
  }

  function move(event) {
    const nodes = [...shown.values()];
    const at = nodes.indexOf(document.activeElement);
    if (at < 0) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      nodes[at].click();
      return;
    }
    // As many stand in a row as begin at the height of the first.
    const across = nodes.filter((it) => it.offsetTop === nodes[0].offsetTop).length;
    const steps = {
      ArrowRight: 1, ArrowLeft: -1, ArrowDown: across, ArrowUp: -across,
      Home: -at, End: nodes.length - 1 - at,
    };
    if (!(event.key in steps)) return;
    event.preventDefault();
    const next = nodes[Math.min(Math.max(at + steps[event.key], 0), nodes.length - 1)];
    for (const node of nodes) node.tabIndex = node === next ? 0 : -1;
    next.focus();
  }

  function receive(content, buffers) {
    if (content.event !== "picture") return;
    const [data] = buffers ?? [];
    const url = data && URL.createObjectURL(new Blob([data], { type: "image/jpeg" }));
    known.set(content.key, { url, words: content.words });
    put(content.key);
  }

  list.addEventListener("keydown", move);
  model.on("change:items", build);
  model.on("change:value", mark);
  model.on("msg:custom", receive);
  build();
  return () => {
    cancelAnimationFrame(frame);
    sight.disconnect();
    model.off("change:items", build);
    model.off("change:value", mark);
    model.off("msg:custom", receive);
    for (const { url } of known.values()) if (url) URL.revokeObjectURL(url);
  };
}

export default { render };
