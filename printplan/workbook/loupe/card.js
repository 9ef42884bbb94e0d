// How large is a millimetre on this screen? A real card tells.

const CSS_PX_PER_MM = 96 / 25.4;
const NARROWEST = 0.4, WIDEST = 3.2;

const CARD_WORDS =
  "Lay a card of the size ID-1 flat on the screen, inside the outline, and make the " +
  "outline as wide as the card. Bank cards have that size, 85.60 × 53.98 mm " +
  "(ISO/IEC 7810). Arrow keys move the slider by one pixel of the screen.";
const CARD_LIMITS =
  "The match holds for this screen, whatever the browser's zoom. Another screen needs " +
  "its own; two screens with equally many pixels cannot be told apart. Where the " +
  "desktop itself enlarges everything, the page cannot know: match again when you " +
  "change that.";

// The section that matches the screen; `keep` takes device pixels per millimetre.
function cardSection(card, keep, close) {
  const [widthMm, heightMm] = card.mm;
  const section = element("section", "printplan-loupe-card");
  section.setAttribute("aria-label", "Match the screen to a card");
  section.hidden = true;
  const outline = element("div", "printplan-loupe-outline");
  outline.setAttribute("aria-hidden", "true");
  outline.append(element("span", "", "ID-1 · 85.60 × 53.98 mm"));
  const bed = element("div", "printplan-loupe-bed");
  bed.append(outline);
  const words = element("p", "", CARD_WORDS);
  words.id = newId();
  const slider = control(element("input"));
  slider.type = "range";
  slider.step = "1";
  slider.setAttribute("aria-label", "Width of the outline in pixels of the screen");
  slider.setAttribute("aria-describedby", words.id);
  const readout = element("output", "printplan-loupe-readout");
  const kept = button("save this match");
  const left = button("cancel");
  const row = element("div", "printplan-loupe-row");
  row.append(slider, readout, kept, left);
  const limits = element("p", "printplan-loupe-small", CARD_LIMITS);
  section.append(words, bed, row, limits);

  const ratio = () => window.devicePixelRatio || 1;
  const density = () => Number(slider.value) / widthMm;

  function draw() {
    const cssPerMm = density() / ratio();
    outline.style.width = `${widthMm * cssPerMm}px`;
    outline.style.height = `${heightMm * cssPerMm}px`;
    outline.style.borderRadius = `${card.corner_mm * cssPerMm}px`;
    readout.textContent = `${slider.value} px, ${density().toFixed(2)} px per mm`;
    slider.setAttribute(
      "aria-valuetext",
      `${slider.value} pixels, ${density().toFixed(2)} per millimetre`
    );
  }

  slider.addEventListener("input", draw);
  kept.addEventListener("click", () => {
    keep(density());
    close();
  });
  left.addEventListener("click", close);

  return {
    section,
    open(known) {
      const usual = CSS_PX_PER_MM * ratio() * widthMm;
      slider.min = Math.round(usual * NARROWEST);
      slider.max = Math.round(usual * WIDEST);
      slider.value = Math.round(known === null ? usual : known * widthMm);
      section.hidden = false;
      draw();
      slider.focus();
    },
    close() {
      section.hidden = true;
    },
  };
}
