// Teaches the stock controls of one panel what they lack: names for those who do not
// see them, values with their units, and keys that the page around does not take away.

const FOCUSABLE =
  "a[href], button, input, select, textarea, summary, [tabindex], [contenteditable]";

// Named differently by the releases of ipywidgets 8.
const FOLD = ".jp-Collapse-header, .jupyter-widget-Collapse-header";
const OPEN_FOLD = ".jp-Collapse-open, .jupyter-widget-Collapse-open";

// A stage that changes by less keeps its picture; it would flicker otherwise.
const SAME_PX = 2;

function set(node, name, value) {
  if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

function textOf(node, selector) {
  return node.querySelector(selector)?.textContent.trim() ?? "";
}

function tendSlider(slider) {
  const label = textOf(slider, ".widget-label");
  const unit = label.match(/\(([^)]+)\)$/)?.[1] ?? "";
  const name = label.replace(/\s*\([^)]*\)$/, "");
  const readout = slider.querySelector(".widget-readout");
  for (const handle of slider.querySelectorAll(".noUi-handle")) {
    set(handle, "aria-label", name);
    const value = readout?.textContent.trim() || handle.getAttribute("aria-valuenow");
    set(handle, "aria-valuetext", unit ? `${value} ${unit}` : `${value}`);
  }
  if (readout?.isContentEditable) {
    set(readout, "role", "textbox");
    set(readout, "aria-label", unit ? `${name}, typed, ${unit}` : `${name}, typed`);
  }
}

function tendSwitch(buttons) {
  set(buttons, "role", "group");
  set(buttons, "aria-label", textOf(buttons, ".widget-label"));
  for (const button of buttons.querySelectorAll("button")) {
    set(button, "aria-pressed", `${button.classList.contains("mod-active")}`);
  }
}

// Stock controls that have a label do not show what they are for.
function tendTips(root, tips) {
  for (const [mark, words] of Object.entries(tips)) {
    const control = root.querySelector(`.${mark}`);
    if (!control) continue;
    set(control, "title", words);
    for (const field of control.querySelectorAll("input, select, button"))
      set(field, "aria-description", words);
  }
}

function tendProgress(progress) {
  const bar = progress.querySelector(".progress-bar");
  if (!bar) return;
  set(progress, "role", "progressbar");
  set(progress, "aria-label", textOf(progress, ".widget-label") || "progress");
  set(progress, "aria-valuemin", "0");
  set(progress, "aria-valuemax", "100");
  set(progress, "aria-valuenow", `${Math.round(parseFloat(bar.style.width) || 0)}`);
}

function tendFold(header) {
  set(header, "tabindex", "0");
  set(header, "role", "button");
  const open = header.parentElement.matches(OPEN_FOLD);
  set(header, "aria-expanded", `${open}`);
  if (header.dataset.printplanKeys) return;
  header.dataset.printplanKeys = "yes";
  header.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    header.click();
  });
}

// A picture larger than its stage is scrolled by keys too.
function tendStage(stage, title) {
  set(stage, "tabindex", "0");
  set(stage, "role", "group");
  set(stage, "aria-label", `${title}: print pixels, scrolled by the arrow keys`);
}

function tendImages(root, model) {
  const described = model.get("described");
  for (const image of root.querySelectorAll("img.widget-image")) {
    if (image.closest(".printplan-panel") !== root) continue; // that panel's own
    const mark = [...image.classList].find((name) => name in described);
    set(image, "alt", mark ? described[mark] : model.get("otherwise"));
  }
}

function tend(root, model) {
  set(root, "role", "group");
  set(root, "aria-label", model.get("title"));
  root.querySelectorAll(".widget-slider").forEach(tendSlider);
  root.querySelectorAll(".widget-toggle-buttons").forEach(tendSwitch);
  tendTips(root, model.get("tips"));
  root.querySelectorAll(".widget-hprogress").forEach(tendProgress);
  root.querySelectorAll(FOLD).forEach(tendFold);
  for (const stage of root.querySelectorAll(".printplan-exact"))
    tendStage(stage, model.get("title"));
  tendImages(root, model);
  for (const node of root.querySelectorAll(FOCUSABLE)) {
    set(node, "data-lm-suppress-shortcuts", "true");
  }
}

function render({ model, el }) {
  el.style.display = "none";
  let frame = 0;
  let observer = null;
  let root = null;
  const widths = new ResizeObserver(([stage]) => {
    const width = Math.floor(stage.contentRect.width);
    if (width < 1 || Math.abs(width - model.get("stage_px")) < SAME_PX) return;
    model.set("stage_px", width);
    model.save_changes();
  });

  const later = () => {
    if (!frame) frame = requestAnimationFrame(work);
  };
  const work = () => {
    frame = 0;
    if (!root) {
      root = el.closest(".printplan-panel");
      if (!root) return later(); // not yet in the page
      observer = new MutationObserver(later);
      observer.observe(root, {
        subtree: true,
        childList: true,
        characterData: true,
        attributes: true,
        attributeFilter: ["class", "style", "aria-valuetext", "aria-valuenow"],
      });
      const stage = root.querySelector(".printplan-stage");
      if (stage?.closest(".printplan-panel") === root) widths.observe(stage);
    }
    tend(root, model);
  };
  model.on("change:described change:otherwise change:title change:tips", later);
  later();
  return () => {
    cancelAnimationFrame(frame);
    observer?.disconnect();
    widths.disconnect();
    model.off("change:described change:otherwise change:title", later);
  };
}

export default { render };
