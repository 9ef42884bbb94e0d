// What does one view of the loupe do?

const MOVE_SHARE = 1 / 12, FAR_SHARE = 1 / 2;
const DIVIDER_STEP = 0.02, DIVIDER_FAR = 0.1;
const WHEEL_STEP = 60;
const BUSY_MS = 350, PATIENCE_MS = 4000, SPEAK_AFTER_MS = 700;
const MAP_CSS_PX = 232;
const WAITING =
  "Waiting for the kernel. If nothing appears, run this cell again.";
const UNMATCHED =
  "True size needs this screen's density: match the screen to a card first.";

function render({ model, el }) {
  const page = buildPage(model);
  el.append(page.root);
  const context = page.canvas.getContext("2d", { alpha: false });
  const viewId = newId();

  let plan = model.get("plan");
  let centre = startOf(plan);
  let zoom = PRINT;
  let scale = 1;
  let share = 0.5;
  let layer = "none";
  let isSplit = true;
  let shownSide = 1;
  const names = model.get("sides").map((side) => side.name);
  const sides = [names[0], names[names.length > 1 ? 1 : 0]];

  let frame = null;      // What the canvas shows, with the place it was made for.
  let request = null;    // The latest one.
  let onItsWay = null;   // The same while the next one has to wait for its answer.
  let isPending = false; // Whether something else is wanted meanwhile.
  let lastId = 0;
  let patience = 0;
  let busy = 0;
  let speaking = 0;

  function startOf({ picture: [left, top, width, height] }) {
    const [across, down] = model.get("start");
    return [left + width * across, top + height * down];
  }

  // Asking the kernel

  function ask() {
    if (!page.canvas.width) return;
    isPending = onItsWay !== null;
    page.canvas.dataset.asked = lastId + 1;
    if (isPending) return;
    lastId += 1;
    request = {
      id: lastId, centre: [...centre], zoom, scale,
      sides: isSplit ? [...sides] : [sides[shownSide]],
      width: page.canvas.width, height: page.canvas.height, layer,
      divider: isSplit ? share : null,
    };
    // What the view has need not be sent again.
    request.has = frame ? frame.id : 0;
    model.send({ kind: "frame", view: viewId, follows: true, ...request });
    wait();
  }

  function wait() {
    onItsWay = request;
    clearTimeout(patience);
    clearTimeout(busy);
    busy = setTimeout(() => showBusy(true), BUSY_MS);
    patience = setTimeout(() => {
      page.notice.textContent = WAITING;
      page.notice.hidden = false;
      // An answer that got lost may not stop the next one.
      onItsWay = null;
      if (isPending) ask();
    }, PATIENCE_MS);
  }

  function showBusy(isBusy) {
    page.stage.setAttribute("aria-busy", String(isBusy));
    page.busyTag.hidden = !isBusy;
  }

  function receive(message, buffers) {
    if (message.kind !== "frame") return;
    if (message.view === mapId) return receiveMap(message, buffers);
    if (message.view !== viewId || message.id !== lastId) return undefined;
    page.canvas.dataset.answered = message.id;
    clearTimeout(patience);
    clearTimeout(busy);
    showBusy(false);
    page.notice.hidden = true;
    onItsWay = null;
    if (message.problem) complain(message);
    else show(message, buffers, request);
    if (isPending) ask();
    return undefined;
  }

  function show(message, buffers, asked) {
    if (message.cuts.some((cut) => cut.kept) && frame?.id !== message.base) {
      frame = null; // not the one that the kernel took it for
      return ask();
    }
    const laid = message.cuts.map((cut, which) =>
      cut.kept
        ? frame.laid[which]
        : laidOut(
            cut, buffers[which], message.left + cut.from * cut.repeat, message.top,
            asked.width, asked.height
          )
    );
    frame = {
      ...asked, laid, words: message.words, layerWords: message.layer_words,
      isPart: message.part,
    };
    if (isNear()) askForRest();
    complain(model.get("problem"));
    page.pane.classList.remove("printplan-loupe-stale");
    page.canvas.dataset.shown = Number(page.canvas.dataset.shown ?? 0) + 1;
    paint();
    describe();
    return undefined;
  }

  // While a slider moves, each side is sent as far as it is seen. Whoever comes near
  // may move the divider or the picture, and finds all of it there.
  function askForRest() {
    if (frame?.isPart && !isPending) ask();
  }

  function isNear() {
    return page.pane.matches(":hover, :focus-within");
  }

  function complain({ problem, remedy }) {
    page.problem.replaceChildren();
    if (!problem) return;
    page.problem.append(problem, element("br"), element("b", "", remedy));
    page.pane.classList.add("printplan-loupe-stale");
  }

  // Painting

  function paint() {
    const { width, height } = page.canvas;
    if (!frame || frame.width !== width || frame.height !== height) {
      context.fillStyle = page.ground;
      context.fillRect(0, 0, width, height);
      return;
    }
    const then = cornerOf(frame.centre, frame.scale, width, height);
    const now = cornerOf(centre, frame.scale, width, height);
    const shift = frame.scale === scale ? [then[0] - now[0], then[1] - now[1]] : [0, 0];
    paintSides(context, frame.laid, Math.round(share * width), shift, page.ground);
    page.canvas.dataset.id = frame.id;
    page.canvas.dataset.scale = frame.scale;
    page.canvas.dataset.zoom = frame.zoom;
    page.canvas.dataset.centre = frame.centre.map((it) => it.toFixed(2)).join(" ");
  }

  function devicePerCss() {
    return page.canvas.width / (page.canvas.clientWidth || page.canvas.width);
  }

  function wordsOf(name) {
    return model.get("sides").find((side) => side.name === name).words;
  }

  function placeWords() {
    const [left, top, width, height] = plan.picture;
    const across = Math.round((100 * (centre[0] - left)) / width);
    const down = Math.round((100 * (centre[1] - top)) / height);
    return `centre ${across} % across and ${down} % down the picture`;
  }

  function sidesWords() {
    if (frame.sides.length === 1) return frame.sides[0];
    return `left ${frame.sides[0]}, right ${frame.sides[1]}`;
  }

  // Paper that the view shows, without the ground about the sheet.
  function shownMm() {
    const whole = [plan.width_px, plan.height_px];
    const view = [frame.width / frame.scale, frame.height / frame.scale];
    return whole.map((edge, axis) => {
      const from = Math.max(frame.centre[axis] - view[axis] / 2, 0);
      const until = Math.min(frame.centre[axis] + view[axis] / 2, edge);
      return (until - from) / plan.px_per_mm;
    });
  }

  // All that is said about the picture, for the eye and for the ear.
  function describe() {
    const digits = plan.unit === "in" ? 2 : 1;
    const [width, height] = shownMm().map((mm) =>
      (mm / plan.unit_mm).toFixed(digits)
    );
    const isReach = frame.layer === "reach";
    page.caption.textContent =
      `${frame.words} · ${width} × ${height} ${plan.unit} of print · ` +
      placeWords();
    page.layerWords.textContent = frame.layerWords;
    page.legend.hidden = !isReach;
    const told = `${sidesWords()}${isReach ? " with reach map" : ""}`;
    page.canvas.setAttribute(
      "aria-label",
      `Print, ${told}; ${frame.words}; ${placeWords()}. ${frame.layerWords}`
    );
    const tags = frame.sides.map((name, which) => {
      const isLast = which === frame.sides.length - 1;
      // An overview is not sharpened, whatever the side's words promise.
      const what = frame.zoom === OVERVIEW ? name : `${name}: ${wordsOf(name)}`;
      return `${what}${isReach && isLast ? " · reach map" : ""}`;
    });
    page.leftTag.textContent = tags[0];
    page.rightTag.textContent = tags[1] || "";
    page.rightTag.hidden = tags.length < 2;
    page.scaleTag.textContent = scaleWords(frame);
    page.scaleTag.classList.toggle("printplan-loupe-inexact", frame.zoom === OVERVIEW);
    clearTimeout(speaking);
    speaking = setTimeout(() => {
      page.live.textContent = `${told}, ${scaleWords(frame)}, ${placeWords()}`;
    }, SPEAK_AFTER_MS);
    drawMap();
  }

  function scaleWords(it) {
    if (it.zoom === TRUE_SIZE) return "true size";
    if (it.zoom === OVERVIEW) {
      return `overview 1:${(1 / it.scale).toPrecision(2)} · not sharpened`;
    }
    return `${it.scale}:1 print pixels`;
  }

  // Moving about

  function look(change) {
    if (change.centre) {
      centre = [
        clamped(change.centre[0], 0, plan.width_px),
        clamped(change.centre[1], 0, plan.height_px),
      ];
    }
    if (change.zoom) [zoom, scale] = [change.zoom, change.scale];
    paint();
    ask();
  }

  function move(across, down) {
    look({ centre: [centre[0] + across / scale, centre[1] + down / scale] });
  }

  // A change of scale about a point of the view, in device pixels from its middle.
  function rescale(step, [x, y] = [0, 0]) {
    if (!step) return;
    look({
      zoom: step.zoom,
      scale: step.scale,
      centre: [
        centre[0] + x / scale - x / step.scale,
        centre[1] + y / scale - y / step.scale,
      ],
    });
  }

  function steps() {
    return scaleSteps(plan, page.canvas.width, page.canvas.height);
  }

  function showWhole() {
    look({ ...steps()[0], centre: [plan.width_px / 2, plan.height_px / 2] });
  }

  function showTrueSize() {
    const density = matchOf(model.get("screens"));
    if (density === null) {
      openCard();
      page.live.textContent = UNMATCHED;
      return;
    }
    look({ zoom: TRUE_SIZE, scale: density / plan.px_per_mm });
  }

  function goTo(stop) {
    if (!stop) return;
    const change = zoom === OVERVIEW ? { zoom: PRINT, scale: 1 } : {};
    look({ ...change, centre: middleOf(stop.box) });
  }

  // Sides and layer

  function showControls() {
    page.left.value = sides[0];
    page.right.value = sides[1];
    page.divide.checked = isSplit;
    page.reach.checked = layer === "reach";
    page.divider.hidden = !isSplit;
    page.divider.style.left = `${100 * share}%`;
    page.divider.setAttribute("aria-valuenow", String(Math.round(100 * share)));
    page.divider.setAttribute(
      "aria-valuetext",
      `${Math.round(100 * share)} %: ${sides[0]} on the left, ${sides[1]} on the right`
    );
    page.left.classList.toggle("printplan-loupe-off", !isSplit && shownSide === 1);
    page.right.classList.toggle("printplan-loupe-off", !isSplit && shownSide === 0);
  }

  function change(act) {
    act();
    showControls();
    ask();
  }

  function exchange() {
    change(() => {
      if (isSplit) sides.reverse();
      else shownSide = 1 - shownSide;
    });
  }

  function divide(wanted) {
    change(() => {
      isSplit = wanted;
    });
  }

  function paintReach(wanted) {
    change(() => {
      layer = wanted ? "reach" : "none";
    });
  }

  function moveDivider(wanted) {
    const { width } = page.canvas;
    // On whole device pixels, so that the line lies where the sides meet.
    share = Math.round(clamped(wanted, 0, 1) * width) / width;
    showControls();
    paint();
    askForRest();
    model.send({ kind: "divider", view: viewId, divider: isSplit ? share : null });
  }

  page.pane.addEventListener("pointerenter", askForRest);
  page.pane.addEventListener("focusin", askForRest);

  page.left.addEventListener("change", () =>
    change(() => {
      sides[0] = page.left.value;
      shownSide = 0;
    })
  );
  page.right.addEventListener("change", () =>
    change(() => {
      sides[1] = page.right.value;
      shownSide = 1;
    })
  );
  page.exchange.addEventListener("click", exchange);
  page.divide.addEventListener("change", () => divide(page.divide.checked));
  page.reach.addEventListener("change", () => paintReach(page.reach.checked));
  page.smaller.addEventListener("click", () => rescale(nextStep(steps(), scale, -1)));
  page.larger.addEventListener("click", () => rescale(nextStep(steps(), scale, 1)));
  page.whole.addEventListener("click", showWhole);
  page.exact.addEventListener("click", () => look({ zoom: PRINT, scale: 1 }));
  page.trueSize.addEventListener("click", showTrueSize);
  page.places.addEventListener("click", () => {
    const isOpen = page.side.classList.toggle("printplan-loupe-over");
    page.places.setAttribute("aria-expanded", String(isOpen));
    if (isOpen) askMap();
  });

  // The card

  const card = cardSection(
    model.get("card"),
    (density) => {
      const [width_px, height_px] = thisScreen();
      model.send({ kind: "match", width_px, height_px, device_px_per_mm: density });
    },
    closeCard
  );
  page.bar.after(card.section);
  page.match.addEventListener("click", () => {
    if (card.section.hidden) openCard();
    else closeCard();
  });

  function openCard() {
    page.match.setAttribute("aria-expanded", "true");
    card.open(matchOf(model.get("screens")));
  }

  function closeCard() {
    card.close();
    page.match.setAttribute("aria-expanded", "false");
    page.match.focus();
  }

  // Pointer and keys

  let grip = null;
  page.stage.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    grip = [event.clientX, event.clientY];
    page.stage.setPointerCapture(event.pointerId);
    page.stage.focus({ preventScroll: true });
  });
  page.stage.addEventListener("pointermove", (event) => {
    if (!grip) return;
    const ratio = devicePerCss();
    const moved = [grip[0] - event.clientX, grip[1] - event.clientY];
    grip = [event.clientX, event.clientY];
    move(moved[0] * ratio, moved[1] * ratio);
  });
  const letGo = () => {
    grip = null;
  };
  page.stage.addEventListener("pointerup", letGo);
  page.stage.addEventListener("pointercancel", letGo);

  let turned = 0;
  page.stage.addEventListener(
    "wheel",
    (event) => {
      // Without the focus the wheel belongs to the page.
      if (!page.stage.contains(page.root.getRootNode().activeElement)) return;
      event.preventDefault();
      turned += event.deltaMode === 1 ? event.deltaY * 30 : event.deltaY;
      if (Math.abs(turned) < WHEEL_STEP) return;
      const box = page.canvas.getBoundingClientRect();
      const ratio = devicePerCss();
      const point = [
        (event.clientX - box.left - box.width / 2) * ratio,
        (event.clientY - box.top - box.height / 2) * ratio,
      ];
      rescale(nextStep(steps(), scale, turned < 0 ? 1 : -1), point);
      turned = 0;
    },
    { passive: false }
  );

  const moves = {
    ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
  };
  const acts = {
    "+": () => rescale(nextStep(steps(), scale, 1)),
    "=": () => rescale(nextStep(steps(), scale, 1)),
    "-": () => rescale(nextStep(steps(), scale, -1)),
    Home: () => look({ centre: middleOf(plan.picture) }),
    Enter: exchange,
    d: () => divide(!isSplit),
    r: () => paintReach(layer === "none"),
    p: () => look({ zoom: PRINT, scale: 1 }),
    w: showWhole,
    t: showTrueSize,
  };
  page.stage.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const way = moves[event.key];
    const act = acts[event.key];
    const number = /^[1-9]$/.test(event.key) ? Number(event.key) : 0;
    if (!way && !act && !number) return;
    event.preventDefault();
    event.stopPropagation();
    if (way) {
      const far = event.shiftKey ? FAR_SHARE : MOVE_SHARE;
      move(
        Math.round(way[0] * far * page.canvas.width),
        Math.round(way[1] * far * page.canvas.height)
      );
    } else if (act) act();
    else goTo(model.get("stops")[number - 1]);
  });

  page.divider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = event.shiftKey ? DIVIDER_FAR : DIVIDER_STEP;
    const places = {
      ArrowLeft: share - step, ArrowDown: share - step,
      ArrowRight: share + step, ArrowUp: share + step,
      PageDown: share - DIVIDER_FAR, PageUp: share + DIVIDER_FAR, Home: 0, End: 1,
    };
    if (event.key === "Enter") exchange();
    else if (event.key in places) moveDivider(places[event.key]);
    else return;
    event.preventDefault();
    event.stopPropagation();
  });
  let isHeld = false;
  page.divider.addEventListener("pointerdown", (event) => {
    isHeld = true;
    page.divider.setPointerCapture(event.pointerId);
  });
  page.divider.addEventListener("pointermove", (event) => {
    if (!isHeld) return;
    const box = page.canvas.getBoundingClientRect();
    moveDivider((event.clientX - box.left) / box.width);
  });
  const release = () => {
    isHeld = false;
  };
  page.divider.addEventListener("pointerup", release);
  page.divider.addEventListener("pointercancel", release);

  // The whole sheet at the side, with the window and the look-here windows in it

  const mapId = `${viewId}-map`;
  let mapImage = null;

  function askMap() {
    if (!page.map.offsetParent) return; // lies over the picture, and is folded away
    const ratio = window.devicePixelRatio || 1;
    const edge = Math.round(MAP_CSS_PX * ratio);
    const fit = Math.min(
      edge / plan.width_px, edge / plan.height_px, 0.999
    );
    page.map.width = Math.round(plan.width_px * fit);
    page.map.height = Math.round(plan.height_px * fit);
    page.map.style.width = `${page.map.width / ratio}px`;
    page.map.style.height = `${page.map.height / ratio}px`;
    model.send({
      kind: "frame", view: mapId, id: plan.number, zoom: OVERVIEW, scale: fit,
      centre: [plan.width_px / 2, plan.height_px / 2], layer: "none",
      sides: [sides[1]], width: page.map.width, height: page.map.height,
    });
  }

  function receiveMap(message, buffers) {
    if (message.problem || message.id !== plan.number) return;
    const { width, height } = page.map;
    const side = laidOut(
      message.cuts[0], buffers[0], message.left, message.top, width, height
    );
    mapImage = side;
    drawMap();
  }

  function drawMap() {
    if (!mapImage) return;
    const drawing = page.map.getContext("2d", { alpha: false });
    const { width, height } = page.map;
    const fit = width / plan.width_px;
    const ratio = window.devicePixelRatio || 1;
    paintSides(drawing, [mapImage], 0, [0, 0], page.ground);
    drawing.font = `${11 * ratio}px sans-serif`;
    drawing.textAlign = "center";
    drawing.textBaseline = "middle";
    model.get("stops").forEach((stop, which) => {
      const [x, y] = middleOf(stop.box).map((px) => px * fit);
      drawing.fillStyle = "rgb(30, 30, 30)";
      drawing.strokeStyle = "rgb(245, 245, 245)";
      drawing.lineWidth = 1.5 * ratio;
      drawing.beginPath();
      drawing.arc(x, y, 8 * ratio, 0, 2 * Math.PI);
      drawing.fill();
      drawing.stroke();
      drawing.fillStyle = "rgb(245, 245, 245)";
      drawing.fillText(String(which + 1), x, y + 0.5 * ratio);
    });
    const view = [page.canvas.width, page.canvas.height];
    const corner = cornerOf(centre, scale, ...view);
    const inset = 2 * ratio;
    const [x0, y0] = corner.map((at) => Math.max((at / scale) * fit, inset));
    const [x1, y1] = [width, height].map((edge, axis) =>
      Math.min(((corner[axis] + view[axis]) / scale) * fit, edge - inset)
    );
    for (const [colour, thick] of [["rgb(30, 30, 30)", 4], ["rgb(245, 245, 245)", 2]]) {
      drawing.strokeStyle = colour;
      drawing.lineWidth = thick * ratio;
      drawing.strokeRect(x0, y0, x1 - x0, y1 - y0);
    }
  }

  page.map.addEventListener("click", (event) => {
    const box = page.map.getBoundingClientRect();
    look({
      centre: [
        ((event.clientX - box.left) / box.width) * plan.width_px,
        ((event.clientY - box.top) / box.height) * plan.height_px,
      ],
    });
  });

  function listStops() {
    page.stops.replaceChildren();
    const stops = model.get("stops");
    page.stopsTitle.textContent = stops.length
      ? "Look here"
      : "Looking for places worth a look …";
    stops.forEach((stop, which) => {
      const [reason, number] = [stop.words, String(which + 1)];
      const go = control(element("button", "printplan-loupe-stop"));
      go.type = "button";
      go.append(
        element("span", "printplan-loupe-number", number),
        element("span", "", reason)
      );
      go.addEventListener("click", () => goTo(stop));
      const item = element("li");
      item.append(go);
      page.stops.append(item);
    });
    drawMap();
  }

  // Following the model and the screen

  function followPlan() {
    const old = plan;
    plan = model.get("plan");
    // The same place of the picture, however large it is printed now.
    const [oldLeft, oldTop, oldWidth, oldHeight] = old.picture;
    const [left, top, width, height] = plan.picture;
    centre = [
      left + ((centre[0] - oldLeft) * width) / oldWidth,
      top + ((centre[1] - oldTop) * height) / oldHeight,
    ];
    if (zoom === TRUE_SIZE) scale *= old.px_per_mm / plan.px_per_mm;
    if (zoom === OVERVIEW) {
      const wanted = scale;
      const known = steps().filter((step) => step.zoom === OVERVIEW);
      const step = known.find((each) => each.scale >= wanted * (1 - SAME)) ||
        known.at(-1) || { zoom: PRINT, scale: 1 };
      [zoom, scale] = [step.zoom, step.scale];
    }
    // Where size and place are as before, the kernel sends the new frame unasked.
    const isSame = ["width_px", "height_px", "ppi"].every((it) => old[it] === plan[it]) &&
      old.picture.every((it, which) => it === plan.picture[which]);
    if (!isSame || !request) ask();
    else if (!onItsWay) wait();
    askMap();
  }

  function followScreens() {
    const density = matchOf(model.get("screens"));
    page.trueSize.title = density === null
      ? UNMATCHED
      : `This screen has ${density.toFixed(2)} pixels per mm`;
    if (zoom === TRUE_SIZE && density !== null) showTrueSize();
  }

  function followProblem() {
    complain(model.get("problem"));
    page.pane.classList.remove("printplan-loupe-stale");
  }

  function followShown() {
    const wanted = model.get("shown");
    if (wanted.length !== 2) return;
    change(() => {
      sides.splice(0, 2, ...wanted);
      isSplit = true;
    });
  }

  function followEnd() {
    const words = model.get("closed");
    if (words) page.root.replaceChildren(element("p", "", words));
  }

  function fit(width, height) {
    if (!width || !height) return;
    if (page.canvas.width === width && page.canvas.height === height) return;
    const wasWhole = zoom === OVERVIEW && frame &&
      Math.abs(scale - steps()[0].scale) < SAME;
    page.canvas.width = width;
    page.canvas.height = height;
    if (wasWhole) [zoom, scale] = [steps()[0].zoom, steps()[0].scale];
    moveDivider(share);
    ask();
    askMap();
  }

  const sizes = new ResizeObserver(([entry]) => {
    const ratio = window.devicePixelRatio || 1;
    const box = entry.devicePixelContentBoxSize?.[0];
    fit(
      box ? box.inlineSize : Math.round(entry.contentRect.width * ratio),
      box ? box.blockSize : Math.round(entry.contentRect.height * ratio)
    );
  });
  try {
    sizes.observe(page.canvas, { box: "device-pixel-content-box" });
  } catch {
    sizes.observe(page.canvas);
  }

  const followed = {
    "msg:custom": receive,
    "change:plan": followPlan,
    "change:stops": listStops,
    "change:screens": followScreens,
    "change:problem": followProblem,
    "change:closed": followEnd,
    "change:shown": followShown,
  };
  for (const [event, act] of Object.entries(followed)) model.on(event, act);
  showControls();
  listStops();
  followScreens();
  followProblem();
  followEnd();
  followShown();
  page.legend.hidden = true;
  model.send({ kind: "stops" });

  return () => {
    sizes.disconnect();
    for (const waiting of [patience, busy, speaking]) clearTimeout(waiting);
    for (const [event, act] of Object.entries(followed)) model.off(event, act);
    model.send({ kind: "gone", view: viewId });
    model.send({ kind: "gone", view: mapId });
  };
}

export default { render };
