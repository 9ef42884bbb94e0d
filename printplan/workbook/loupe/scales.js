// Which scales are there, and which part of the file does a view show?

const PRINT = "print-pixels";
const OVERVIEW = "overview";
const TRUE_SIZE = "true-size";

const WHOLE_STEPS = [1, 2, 3, 4, 6, 8];
// The kernel computes an overview whole, so it stays within some screens' size.
const LONGEST_OVERVIEW_PX = 4000;
const SAME = 1e-6;

function clamped(value, low, high) {
  return Math.min(Math.max(value, low), high);
}

// Everything from the whole sheet up to large squares, in order.
function scaleSteps(plan, width, height) {
  const steps = WHOLE_STEPS.map((scale) => ({ zoom: PRINT, scale }));
  const fit = Math.min(width / plan.width_px, height / plan.height_px);
  if (fit >= 1) return steps;
  const longest = Math.max(plan.width_px, plan.height_px);
  for (let scale = 1 / 2; scale > fit * 1.2; scale /= 2) {
    if (scale * longest <= LONGEST_OVERVIEW_PX) steps.unshift({ zoom: OVERVIEW, scale });
  }
  steps.unshift({ zoom: OVERVIEW, scale: fit });
  return steps;
}

// The next scale up or down; true size lies between its neighbours.
function nextStep(steps, scale, way) {
  if (way > 0) return steps.find((step) => step.scale > scale * (1 + SAME));
  return steps.findLast((step) => step.scale < scale * (1 - SAME));
}

// The view's corner on the scaled file. The kernel reckons in the same way.
function cornerOf(centre, scale, width, height) {
  return [
    Math.floor(centre[0] * scale - width / 2 + SAME),
    Math.floor(centre[1] * scale - height / 2 + SAME),
  ];
}

function middleOf([left, top, width, height]) {
  return [left + width / 2, top + height / 2];
}

// Screens are known by their size in device pixels, which a zoom rounds a little.
const SAME_SCREEN_PX = 4;

function thisScreen() {
  const ratio = window.devicePixelRatio || 1;
  return [Math.round(screen.width * ratio), Math.round(screen.height * ratio)];
}

function matchOf(screens) {
  const [width, height] = thisScreen();
  const known = screens.find(
    ([w, h]) => Math.abs(w - width) <= SAME_SCREEN_PX &&
      Math.abs(h - height) <= SAME_SCREEN_PX
  );
  return known ? known[2] : null;
}
