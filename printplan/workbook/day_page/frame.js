// Gives the page the height of the window, and says when no kernel answers.

const BEAT_MS = 2000;
const BUSY_MS = 4500;
const LOST_MS = 15000;
const LEAST_PX = 560;
const NARROW_PX = 1000;

const BUSY = "The kernel is busy. What you change now is taken as soon as it is free.";
const LOST =
  "No kernel answers this page any more. Your choices are kept beside the plan and come " +
  "back when the page is started again.";
const BY_MENU = " Choose “Restart Kernel and Run All Cells” in the Kernel menu.";

// What scrolls the page: the notebook's own panel, or whatever does it elsewhere.
function scroller(node) {
  const panel = node.closest(".jp-WindowedPanel-outer, .jp-Notebook");
  if (panel) return panel;
  for (let at = node.parentElement; at; at = at.parentElement) {
    const { overflowY } = getComputedStyle(at);
    if ((overflowY === "auto" || overflowY === "scroll") && at.clientHeight > 300) {
      return at;
    }
  }
  return document.documentElement;
}

function render({ model, el }) {
  el.classList.add("printplan-frame");
  const banner = document.createElement("div");
  banner.className = "printplan-banner";
  banner.setAttribute("role", "alert");
  banner.hidden = true;
  const words = document.createElement("span");
  const again = document.createElement("button");
  again.type = "button";
  again.textContent = "Start again";
  again.setAttribute("data-lm-suppress-shortcuts", "true");
  again.addEventListener("click", () => {
    words.textContent = "Starting again …";
    el.dispatchEvent(new CustomEvent("printplan-start-again", { bubbles: true }));
  });
  banner.append(words, again);
  el.append(banner);

  // Heartbeat
  let sentAt = 0;
  let sent = 0;
  let heard = 0;
  function say(text, canStart) {
    banner.hidden = !text;
    if (words.textContent !== text) words.textContent = text;
    again.hidden = !canStart;
  }
  function beat() {
    const now = performance.now();
    if (sent === heard) {
      sent += 1;
      sentAt = now;
      try {
        model.send({ kind: "beat", number: sent });
      } catch {
        // Nobody is there to take it: found out by the missing answer.
      }
    }
    const waited = sent === heard ? 0 : now - sentAt;
    if (waited > LOST_MS || model.comm_live === false) {
      const hasOwn = Boolean(el.closest(".printplan-own-page"));
      say(LOST + (hasOwn ? "" : BY_MENU), hasOwn);
    } else if (waited > BUSY_MS) say(BUSY, false);
    else say("", false);
  }
  const receive = (message) => {
    if (message.kind !== "beat") return;
    heard = Math.max(heard, message.number);
    if (heard === sent) say("", false);
  };
  model.on("msg:custom", receive);
  const timer = setInterval(beat, BEAT_MS);

  // Size
  let page = null;
  function fit() {
    page ??= el.closest(".printplan-page");
    if (!page) return;
    const around = scroller(page);
    const isWindow = around === document.documentElement;
    const above = isWindow ? 0 : around.getBoundingClientRect().top - around.scrollTop;
    const top = page.getBoundingClientRect().top + (isWindow ? window.scrollY : 0) - above;
    const room = around.clientHeight - top;
    const isNarrow = page.clientWidth < NARROW_PX;
    page.classList.toggle("printplan-narrow", isNarrow);
    const height = isNarrow ? "" : `${Math.max(room - 6, LEAST_PX)}px`;
    if (page.style.height !== height) page.style.height = height;
    page.style.setProperty("--printplan-room", `${Math.max(room, LEAST_PX)}px`);
  }
  const sizes = new ResizeObserver(fit);
  const settle = () => {
    page = el.closest(".printplan-page");
    if (!page) return requestAnimationFrame(settle); // not yet in the page
    sizes.observe(page);
    sizes.observe(scroller(page));
    fit();
    return undefined;
  };
  settle();
  window.addEventListener("resize", fit);

  return () => {
    clearInterval(timer);
    sizes.disconnect();
    window.removeEventListener("resize", fit);
    model.off("msg:custom", receive);
  };
}

export default { render };
