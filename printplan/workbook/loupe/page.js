// What stands on the page about the picture?

const HELP = [
  ["arrow keys", "move; with Shift, half a view"],
  ["+ and −", "larger, smaller; the wheel too, after a click"],
  ["Home", "middle of the picture"],
  ["1 to 9", "look-here windows"],
  ["Enter", "exchange the sides, or show the other one"],
  ["d", "divider on or off; Tab reaches it, arrow keys move it"],
  ["r", "reach map on or off"],
  ["p, w, t", "print pixels 1:1, whole sheet, true size"],
];

let ids = 0;

function newId() {
  ids += 1;
  return `printplan-loupe-${Date.now().toString(36)}-${ids}`;
}

function element(tag, className = "", text = "") {
  const made = document.createElement(tag);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
}

// The page's own keys would otherwise be heard as well.
function control(made) {
  made.setAttribute("data-lm-suppress-shortcuts", "true");
  return made;
}

function button(text, description = "") {
  const made = control(element("button", "printplan-loupe-button", text));
  made.type = "button";
  if (description) {
    made.setAttribute("aria-label", description);
    made.title = description;
  }
  return made;
}

function choice(label, sides) {
  const select = control(element("select", "printplan-loupe-choice"));
  for (const { name, words } of sides) {
    const option = element("option", "", name);
    option.value = name;
    option.title = words;
    select.append(option);
  }
  const wrap = element("label", "printplan-loupe-label", label);
  wrap.append(select);
  return { wrap, select };
}

function tick(label) {
  const box = control(element("input"));
  box.type = "checkbox";
  const wrap = element("label", "printplan-loupe-label");
  wrap.append(box, label);
  return { wrap, box };
}

function group(label, ...members) {
  const made = element("div", "printplan-loupe-group");
  made.setAttribute("role", "group");
  made.setAttribute("aria-label", label);
  made.append(...members);
  return made;
}

function helpSection() {
  const details = element("details", "printplan-loupe-help");
  details.append(control(element("summary", "", "Keys, once the picture is chosen")));
  const list = element("dl");
  for (const [key, what] of HELP) {
    list.append(element("dt", "", key), element("dd", "", what));
  }
  details.append(list);
  return details;
}

// The scale of the reach map, with numbers: colour alone tells nothing here.
function reachScale({ colours, last, ticks }) {
  const made = element("div", "printplan-loupe-legend");
  made.setAttribute("aria-hidden", "true");
  const bar = element("div", "printplan-loupe-legend-bar");
  bar.style.background = `linear-gradient(to right, ${colours.join(", ")})`;
  const numbers = element("div", "printplan-loupe-legend-numbers");
  for (const value of ticks) {
    const text = value === last ? `${value}+` : String(value);
    const mark = element("span", "", text);
    mark.style.left = `${(100 * value) / last}%`;
    numbers.append(mark);
  }
  made.append(element("div", "", "distance from what the paper can hold, dE00"));
  made.append(bar, numbers);
  return made;
}

// All elements of one view. Nothing here knows the plan or the kernel.
function buildPage(model) {
  const sides = model.get("sides");
  const root = element("div", "printplan-loupe");
  root.setAttribute("role", "group");
  root.setAttribute("aria-label", "Loupe");
  const ground = `rgb(${model.get("surround").join(", ")})`;

  const left = choice("left", sides);
  const right = choice("right", sides);
  const exchange = button("exchange", "Exchange the sides");
  const divide = tick("divider");
  const reach = tick("reach map");
  const smaller = button("−", "Smaller");
  const larger = button("+", "Larger");
  const whole = button("whole sheet");
  const exact = button("1:1", "Print pixels, 1:1");
  const trueSize = button("true size");
  const match = button("match the screen");
  match.setAttribute("aria-expanded", "false");
  // Where the picture fills its place, map and look-here windows lie over it.
  const places = button("places", "Map of the sheet, and places worth a look");
  places.classList.add("printplan-loupe-places");
  places.setAttribute("aria-expanded", "false");
  const bar = element("div", "printplan-loupe-bar");
  bar.append(
    group("Sides", left.wrap, exchange, right.wrap, divide.wrap),
    group("Scale", smaller, larger, whole, exact, trueSize, match),
    group("Layer", reach.wrap, places)
  );

  const stage = control(element("div", "printplan-loupe-stage"));
  stage.tabIndex = 0;
  stage.setAttribute("role", "application");
  stage.setAttribute("aria-roledescription", "loupe");
  stage.setAttribute("aria-label", "Window into the print");
  stage.style.height = `${model.get("height_px")}px`;
  stage.style.background = ground;
  const canvas = element("canvas");
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", "Waiting for pixels");
  const leftTag = element("div", "printplan-loupe-tag printplan-loupe-left");
  const rightTag = element("div", "printplan-loupe-tag printplan-loupe-right");
  const scaleTag = element("div", "printplan-loupe-tag printplan-loupe-scale");
  const busyTag = element("div", "printplan-loupe-tag printplan-loupe-busy", "computing …");
  busyTag.hidden = true;
  for (const tag of [leftTag, rightTag, scaleTag, busyTag]) {
    tag.setAttribute("aria-hidden", "true");
  }
  const divider = control(element("div", "printplan-loupe-divider"));
  divider.tabIndex = 0;
  divider.setAttribute("role", "slider");
  divider.setAttribute("aria-orientation", "horizontal");
  divider.setAttribute("aria-label", "Divider");
  divider.setAttribute("aria-valuemin", "0");
  divider.setAttribute("aria-valuemax", "100");
  divider.append(element("div", "printplan-loupe-grip", "◂ ▸"));
  const pane = element("div", "printplan-loupe-pane");
  pane.append(stage, leftTag, rightTag, scaleTag, busyTag, divider);

  const map = element("canvas", "printplan-loupe-map");
  map.setAttribute("aria-hidden", "true");
  const stopsTitle = element("div", "printplan-loupe-title", "Look here");
  stopsTitle.id = newId();
  const stops = element("ol", "printplan-loupe-stops");
  stops.setAttribute("aria-labelledby", stopsTitle.id);
  const side = element("div", "printplan-loupe-side");
  const mapBed = element("div", "printplan-loupe-mapbed");
  mapBed.style.background = ground;
  mapBed.append(map);
  side.append(mapBed, stopsTitle, stops);
  stage.append(canvas);

  const caption = element("div", "printplan-loupe-caption");
  const layerWords = element("div", "printplan-loupe-caption");
  const legend = reachScale(model.get("legend"));
  const notice = element("div", "printplan-loupe-notice");
  notice.hidden = true;
  const problem = element("div", "printplan-loupe-problem");
  problem.setAttribute("role", "alert");
  const live = element("div", "printplan-loupe-spoken");
  live.setAttribute("role", "status");
  live.setAttribute("aria-live", "polite");
  const help = helpSection();

  const body = element("div", "printplan-loupe-body");
  const main = element("div", "printplan-loupe-main");
  main.append(pane, notice, problem, caption, legend, layerWords);
  body.append(main, side);
  root.append(bar, body, help, live);
  return {
    root, bar, left: left.select, right: right.select, rightWrap: right.wrap,
    exchange, divide: divide.box, reach: reach.box, smaller, larger, whole, exact,
    trueSize, match, places, side, pane, stage, canvas, leftTag, rightTag, scaleTag, busyTag, divider, map,
    mapBed, stopsTitle, stops, caption, legend, layerWords, notice, problem, live,
    main, ground,
  };
}
