// A sheet of paper to scale, on which the picture and its crop are moved by hand.
//
// Nothing is decided here: a hand's wish goes to the kernel in millimetres, and what
// comes back is drawn. At most one wish is under way; of those that come meanwhile the
// newest waits.

const SVG = "http://www.w3.org/2000/svg";
const RULER_PX = 26;
const GAP_PX = 18;
const TALLEST_PX = 760;
const TALLEST_SHARE = 0.64;
const SHORTEST_PX = 240;
const NARROWEST_TICK_PX = 5;
const NARROWEST_NUMBER_PX = 42;
// What an arrow key moves by, alone and with Shift, in the person's unit.
const KEY_STEPS = { mm: [1, 10], in: [0.05, 0.5] };
// From one tick to the next, and how many of them make a number's step.
const STEPS = {
  mm: [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000],
  in: [1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 6, 12, 24, 60, 120, 240, 480],
};
const ARROWS = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};
const WAITING =
  "The picture comes from the kernel. If it does not appear, run this cell again.";
const helpFor = (unit) => {
  const [near, far] = KEY_STEPS[unit];
  return (
    "To scale. Drag the picture, or press Tab to reach it and move it with the arrow " +
    `keys: ${near} ${unit}, with Shift ${far} ${unit}. Escape brings it back.`
  );
};

function make(name, className, parent, attributes = {}) {
  const node = document.createElementNS(SVG, name);
  if (className) node.setAttribute("class", className);
  set(node, attributes);
  parent?.append(node);
  return node;
}

function set(node, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    node.setAttribute(name, value);
  }
}

function tag(name, className, parent) {
  const node = document.createElement(name);
  node.className = className;
  parent.append(node);
  return node;
}

// A line in two tones: the light one beneath.
function twoTone(kind, parent) {
  const group = make("g", `printplan-sheet-${kind}`, parent);
  make("rect", "printplan-sheet-under", group);
  make("rect", "printplan-sheet-over", group);
  return group;
}

function setBox(node, box, grow = 0) {
  const attributes = {
    x: box.left - grow,
    y: box.top - grow,
    width: Math.max(box.width + 2 * grow, 0),
    height: Math.max(box.height + 2 * grow, 0),
  };
  const rects = node.localName === "g" ? node.querySelectorAll("rect") : [node];
  rects.forEach((rect) => set(rect, attributes));
}

function showIf(condition, node) {
  node.style.display = condition ? "" : "none";
}

// The finest step that leaves room between its ticks.
function stepFor(unit, pxPerUnit, roomPx) {
  const steps = STEPS[unit];
  return steps.find((step) => step * pxPerUnit >= roomPx) ?? steps.at(-1);
}

function numberText(value) {
  return String(Math.round(value * 100) / 100);
}

function swatch(kind, name) {
  const svg = make("svg", "", null, { width: 30, height: 16, "aria-hidden": "true" });
  if (kind === "hatched") {
    make("rect", "", svg, { width: 30, height: 16, fill: `url(#${name})` });
  } else if (kind === "shaded" || kind === "dark") {
    make("rect", `printplan-sheet-${kind}`, svg, { width: 30, height: 16 });
  } else {
    const group = make("g", `printplan-sheet-${kind}`, svg);
    make("path", "printplan-sheet-over", group, { d: "M3 8H27" });
  }
  return svg;
}

function render({ model, el }) {
  const view = `${Date.now()}-${Math.random()}`;
  const names = {
    hatch: `printplan-hatch-${view}`,
    clip: `printplan-clip-${view}`,
  };
  const root = tag("div", "printplan-sheet", el);
  const svg = make("svg", "printplan-sheet-drawing", root, { role: "group" });
  const told = tag("div", "printplan-sheet-told", root);
  const words = tag("div", "printplan-sheet-words", told);
  const legend = tag("ul", "printplan-sheet-legend", told);
  const help = tag("p", "printplan-sheet-help", root);
  help.textContent = WAITING;

  const defs = make("defs", "", svg);
  const hatch = make("pattern", "", defs, {
    id: names.hatch,
    width: 7,
    height: 7,
    patternUnits: "userSpaceOnUse",
    patternTransform: "rotate(45)",
  });
  make("rect", "printplan-sheet-paper", hatch, { width: 7, height: 7 });
  make("path", "printplan-sheet-hatch", hatch, { d: "M3.5 0V7" });
  const clip = make("rect", "", make("clipPath", "", defs, { id: names.clip }));

  const ground = make("rect", "printplan-sheet-ground", svg);
  const sheet = make("rect", "", svg, { fill: `url(#${names.hatch})` });
  const printable = make("rect", "printplan-sheet-printable", svg);
  const bordered = make("rect", "printplan-sheet-border", svg);
  const middles = make("path", "printplan-sheet-middle", svg);
  const cut = make("image", "printplan-sheet-cut", svg, {
    preserveAspectRatio: "none",
  });
  const pictureGrip = grip("picture");
  const empty = make("rect", "printplan-sheet-empty", pictureGrip);
  const photo = make("image", "printplan-sheet-photo", pictureGrip, {
    preserveAspectRatio: "none",
    "clip-path": `url(#${names.clip})`,
  });
  const hit = make("rect", "printplan-sheet-hit", pictureGrip);
  const covers = make("g", "printplan-sheet-covers", svg);
  const whites = make("g", "printplan-sheet-covers", svg);
  const fold = twoTone("dotted", svg);
  const mat = twoTone("dashed", svg);
  const pictureRing = twoTone("ring", pictureGrip);
  const cropGrip = grip("crop");
  const button = make("rect", "printplan-sheet-button", cropGrip, { rx: 14 });
  const buttonText = make("text", "", cropGrip);
  const cropRing = twoTone("ring", cropGrip);
  cropRing.querySelectorAll("rect").forEach((rect) => set(rect, { rx: 17 }));
  const rulers = make("g", "", svg, { "aria-hidden": "true" });

  let geometry = model.get("geometry");
  let scale = 1; // CSS pixels for a millimetre.
  let origin = [0, 0];
  let url = null;
  let isPrinted = false;
  let drag = null;
  let gesture = 0;
  let number = 0;
  let underWay = null;
  let waiting = null;

  // Something that can be reached with Tab and moved.
  function grip(handle) {
    const group = make("g", `printplan-sheet-grip printplan-sheet-${handle}`, svg, {
      role: "slider",
      tabindex: 0,
      "aria-roledescription": "handle that moves across and down",
      // The page's own keys would otherwise be heard as well.
      "data-lm-suppress-shortcuts": "true",
    });
    group.addEventListener("focus", () => {
      if (!drag) gesture += 1;
    });
    group.addEventListener("pointerdown", (event) => begin(event, handle, group));
    group.addEventListener("keydown", (event) => press(event, handle));
    return group;
  }

  function ask(wish) {
    waiting = { ...wish, view, gesture };
    send();
  }

  function send() {
    if (underWay || !waiting) return;
    number += 1;
    underWay = { ...waiting, number };
    waiting = null;
    model.send(underWay);
  }

  // Where a handle is, or where it has been asked to go.
  function wishedPlace(handle) {
    const asked = [waiting, underWay].find(
      (wish) => wish?.kind === "move" && wish.handle === handle
    );
    return asked ?? geometry[`${handle}_grip`];
  }

  function begin(event, handle, group) {
    if (event.button !== 0 || drag) return;
    event.preventDefault();
    const { right_mm, down_mm } = geometry[`${handle}_grip`];
    gesture += 1;
    drag = { handle, right_mm, down_mm, from: [event.clientX, event.clientY], scale };
    drag.pointer = event.pointerId;
    group.setPointerCapture(event.pointerId);
    group.focus({ preventScroll: true });
    draw();
  }

  svg.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.pointer) return;
    ask({
      kind: "move",
      hand: "pointer",
      handle: drag.handle,
      right_mm: drag.right_mm + (event.clientX - drag.from[0]) / drag.scale,
      down_mm: drag.down_mm + (event.clientY - drag.from[1]) / drag.scale,
    });
  });
  const letGo = (event) => {
    if (!drag || event.pointerId !== drag.pointer) return;
    drag = null;
    draw();
  };
  svg.addEventListener("pointerup", letGo);
  svg.addEventListener("pointercancel", letGo);

  function press(event, handle) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") {
      drag = null;
      ask({ kind: "restore" });
    } else if (ARROWS[event.key]) {
      const [right, down] = ARROWS[event.key];
      const steps = KEY_STEPS[geometry.unit];
      const step = steps[event.shiftKey ? 1 : 0] * geometry.mm_per_unit;
      const place = wishedPlace(handle);
      ask({
        kind: "move",
        hand: "keys",
        handle,
        right_mm: place.right_mm + right * step,
        down_mm: place.down_mm + down * step,
      });
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  }

  function toBox([left, top, right, bottom]) {
    return {
      left: origin[0] + left * scale,
      top: origin[1] + top * scale,
      width: (right - left) * scale,
      height: (bottom - top) * scale,
    };
  }

  // As large as the page allows, and no taller than the sheet needs.
  function fit() {
    const [leftMm, topMm, rightMm, bottomMm] = geometry.extent;
    const [widthMm, heightMm] = [rightMm - leftMm, bottomMm - topMm];
    const width = root.clientWidth;
    const around = RULER_PX + 2 * GAP_PX;
    // A page can give the sheet a place of its own, which it then fills.
    const place = root.closest(".printplan-fills");
    const below = told.offsetHeight;
    const tallest = place
      ? place.clientHeight - below
      : Math.min(window.innerHeight * TALLEST_SHARE, TALLEST_PX);
    const room = [Math.max(width - around, 40), Math.max(tallest, SHORTEST_PX) - around];
    scale = Math.min(room[0] / widthMm, room[1] / heightMm);
    const height = Math.max(place ? tallest : heightMm * scale + around, SHORTEST_PX);
    origin = [
      RULER_PX + (width - RULER_PX - widthMm * scale) / 2 - leftMm * scale,
      RULER_PX + (height - RULER_PX - heightMm * scale) / 2 - topMm * scale,
    ];
    set(svg, { height, viewBox: `0 0 ${width} ${height}` });
    return [width, height];
  }

  function draw() {
    geometry = model.get("geometry");
    if (url && geometry.unit) help.textContent = helpFor(geometry.unit);
    if (!geometry.sheet || !root.clientWidth) return;
    write(); // First: the drawing takes the room that words and legend leave.
    const [width, height] = fit();
    const picture = toBox(geometry.picture);
    set(svg, { "aria-label": geometry.description });
    setBox(ground, { left: 0, top: 0, width, height });
    setBox(sheet, toBox(geometry.sheet));
    setBox(printable, toBox(geometry.printable));
    for (const [node, corners] of [
      [bordered, geometry.bordered],
      [mat, geometry.mat],
      [fold, geometry.fold],
    ]) {
      showIf(corners, node);
      if (corners) setBox(node, toBox(corners));
    }
    for (const node of [empty, hit]) setBox(node, picture);
    // With sides, marks or words the kernel sends all that is printed, else the whole
    // photograph, of which a part is printed.
    const shown = isPrinted ? geometry.shown && toBox(geometry.shown) : null;
    setBox(clip, shown ?? toBox(geometry.cut_to));
    for (const node of [photo, cut]) {
      setBox(node, shown ?? toBox(geometry.whole));
      if (url) set(node, { href: url });
      showIf(url && (node === photo ? shown || !isPrinted : !isPrinted), node);
    }
    setBox(pictureRing, picture, 2);
    drawCovers();
    drawWhites();
    drawMiddles();
    drawCropGrip(picture);
    drawRulers(width, height);
    svg.dataset.pxPerMm = scale;
    name(pictureGrip, geometry.picture_grip);
    if (geometry.crop_grip) name(cropGrip, geometry.crop_grip);
  }

  function name(node, { label, words: place, right_mm, reach }) {
    set(node, {
      "aria-label": label,
      "aria-valuetext": place,
      "aria-valuenow": right_mm.toFixed(1),
      "aria-valuemin": Math.min(reach[0], right_mm).toFixed(1),
      "aria-valuemax": Math.max(reach[2], right_mm).toFixed(1),
    });
  }

  // What mat and frame hide: rings over the sheet, and past its edges.
  function drawCovers() {
    covers.replaceChildren();
    for (const { kind, outer, inner } of geometry.covers) {
      const [out, hole] = [toBox(outer), toBox(inner)].map(
        ({ left, top, width, height }) => `M${left} ${top}h${width}v${height}h${-width}z`
      );
      make("path", `printplan-sheet-${kind}`, covers, {
        d: out + hole,
        "fill-rule": "evenodd",
      });
      make("path", "printplan-sheet-cover-edge", covers, { d: out });
    }
  }

  // The width of the white, where there is room to write it.
  function drawWhites() {
    whites.replaceChildren();
    for (const { x_mm, y_mm, room_mm, is_across, text } of geometry.whites) {
      const needed = is_across ? text.length * 7 + 10 : 20;
      if (room_mm * scale < needed) continue;
      make("text", "printplan-sheet-white", whites, {
        x: origin[0] + x_mm * scale,
        y: origin[1] + y_mm * scale,
      }).textContent = text;
    }
  }

  // While the picture is dragged, a line through each middle that it has met.
  function drawMiddles() {
    const { left, top, width, height } = toBox(geometry.sheet);
    const { right_mm, down_mm } = geometry.picture_grip;
    const isDragged = drag?.handle === "picture";
    const x = left + width / 2;
    const y = top + height / 2;
    const across = isDragged && right_mm === 0 ? `M${x} ${top}v${height}` : "";
    const down = isDragged && down_mm === 0 ? `M${left} ${y}h${width}` : "";
    set(middles, { d: across + down });
  }

  function drawCropGrip({ left, top, width, height }) {
    const crop = geometry.crop_grip;
    showIf(crop, cropGrip);
    if (!crop) return;
    const isAcross = crop.reach[2] > crop.reach[3];
    buttonText.textContent = isAcross ? "↔ crop" : "↕ crop";
    const [x, y] = [left + width / 2, top + height / 2];
    const box = { left: x - 36, top: y - 14, width: 72, height: 28 };
    setBox(button, box);
    setBox(cropRing, box, 4);
    set(buttonText, { x, y });
  }

  function drawRulers(width, height) {
    rulers.replaceChildren();
    const [left, top, right, bottom] = geometry.picture;
    ruler("horizontal", origin[0], width, geometry.sheet[2], [left, right]);
    ruler("vertical", origin[1], height, geometry.sheet[3], [top, bottom]);
    make("rect", "printplan-sheet-ruler", rulers, {
      width: RULER_PX,
      height: RULER_PX,
    });
    make("text", "printplan-sheet-number", rulers, {
      x: RULER_PX / 2,
      y: RULER_PX / 2 + 4,
    }).textContent = geometry.unit;
  }

  // From the sheet's edge; the stretch that the picture takes has another ground.
  function ruler(direction, start, end, length, span) {
    const isUpright = direction === "vertical";
    const band = (from, to) =>
      isUpright
        ? { y: from, height: to - from, width: RULER_PX }
        : { x: from, width: to - from, height: RULER_PX };
    make("rect", "printplan-sheet-ruler", rulers, band(0, end));
    const [first, last] = span.map((mm) => start + mm * scale);
    make("rect", "printplan-sheet-span", rulers, band(first, last));
    const pxPerUnit = geometry.mm_per_unit * scale;
    const tick = stepFor(geometry.unit, pxPerUnit, NARROWEST_TICK_PX);
    const numbered = stepFor(geometry.unit, pxPerUnit, NARROWEST_NUMBER_PX);
    const count = Math.floor(length / geometry.mm_per_unit / tick + 1e-6);
    const perNumber = Math.round(numbered / tick);
    let path = "";
    for (let i = 0; i <= count; i++) {
      const at = start + i * tick * pxPerUnit;
      const size = i % perNumber === 0 ? 9 : 4;
      path += isUpright
        ? `M${RULER_PX - size} ${at}h${size}`
        : `M${at} ${RULER_PX - size}v${size}`;
      if (i % perNumber === 0) {
        const place = isUpright
          ? { transform: `translate(12 ${at}) rotate(-90)` }
          : { x: at, y: 13 };
        make("text", "printplan-sheet-number", rulers, place).textContent = numberText(
          i * tick
        );
      }
    }
    make("path", "printplan-sheet-ticks", rulers, { d: path });
  }

  function write() {
    const lines = [geometry.picture_grip, geometry.crop_grip].filter(Boolean);
    words.replaceChildren(
      ...lines.map((line) => {
        const paragraph = document.createElement("p");
        paragraph.textContent = line.words;
        return paragraph;
      })
    );
    legend.replaceChildren(
      ...geometry.legend.map((mark) => {
        const item = document.createElement("li");
        item.append(swatch(mark.kind, names.hatch), mark.words);
        return item;
      })
    );
  }

  const receive = (message, buffers) => {
    if (message.kind === "picture") {
      if (url) URL.revokeObjectURL(url);
      isPrinted = message.is_printed;
      url = URL.createObjectURL(new Blob([buffers[0]], { type: "image/jpeg" }));
      draw();
    } else if (message.kind === "answer" && message.view === view) {
      if (underWay?.number === message.number) underWay = null;
      send();
    }
  };
  model.on("msg:custom", receive);
  model.on("change:geometry", draw);
  const sizes = new ResizeObserver(draw);
  sizes.observe(root);
  const place = root.closest(".printplan-fills");
  if (place) sizes.observe(place);
  window.addEventListener("resize", draw);
  model.send({ kind: "picture" });
  draw();

  return () => {
    sizes.disconnect();
    window.removeEventListener("resize", draw);
    model.off("msg:custom", receive);
    model.off("change:geometry", draw);
    if (url) URL.revokeObjectURL(url);
  };
}

export default { render };
