"""What somebody meets who works by keyboard, by ear, or with weak eyes."""

from dataclasses import dataclass

OURS = ".printplan-panel, .printplan-loupe, .printplan-sheet"
"""Roots of what the workbook puts on a page; all else is JupyterLab's own."""

SERIOUS = {"serious", "critical"}

# Names of the roots that axe-core is asked about; it refuses one that is not there.
RUN_AXE = """async (roots) => {
  const include = roots.split(", ").filter((it) => document.querySelector(it));
  const { violations } = await axe.run(
    { include: include.map((it) => [it]) }, { resultTypes: ["violations"] }
  );
  return violations.map(({ id, impact, nodes }) => ({
    id,
    impact,
    nodes: nodes.map((it) => `${it.html.slice(0, 160)}  ${it.failureSummary}`),
  }));
}"""
FOCUSED = """(roots) => {
  const node = document.activeElement;
  return {
    is_ours: Boolean(node.closest(roots)),
    keeps_keys: Boolean(node.closest("[data-lm-suppress-shortcuts='true']")),
    html: node.outerHTML.slice(0, 160),
  };
}"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Where the keyboard is, as the browser tells it to a screen reader."""

    role: str
    name: str
    is_ours: bool
    keeps_keys: bool
    html: str


def violations(page, axe_source):
    """What axe-core holds to be serious inside our own widgets."""
    if page.evaluate("() => typeof axe") == "undefined":
        page.evaluate(axe_source)
    found = page.evaluate(RUN_AXE, OURS)
    return [it for it in found if it["impact"] in SERIOUS]


class Keyboard:
    """A person who has no pointer: Tab, arrows and Enter."""

    def __init__(self, page):
        self.page = page
        self._tools = page.context.new_cdp_session(page)

    def stop(self):
        """Where the keyboard is."""
        node = self._tools.send(
            "Runtime.evaluate", {"expression": "document.activeElement"}
        )["result"]
        heard = self._tools.send(
            "Accessibility.getPartialAXTree",
            {"objectId": node["objectId"], "fetchRelatives": False},
        )["nodes"][0]
        seen = self.page.evaluate(FOCUSED, OURS)
        return Stop(
            role=heard.get("role", {}).get("value", ""),
            name=heard.get("name", {}).get("value", "").strip(),
            **seen,
        )

    def tab(self):
        """Go on by one stop."""
        self.page.keyboard.press("Tab")
        return self.stop()

    def walk(self, most=400):
        """All stops of the notebook, from where the keyboard is to its end."""
        met, ours = [], False
        while len(met) < most:
            stop = self.tab()
            ours = ours or stop.is_ours
            if "lm-TabBar" in stop.html or (ours and "jp-StatusBar" in stop.html):
                break
            met.append(stop)
        return met
