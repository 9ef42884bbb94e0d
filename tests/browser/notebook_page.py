"""What a person does with a notebook in a browser, in words that tests can use."""

import time
from math import inf
from urllib.parse import quote

import nbformat

RUN_S = 240
ANSWER_S = 60

# The cells are there, and a kernel waits for them.
READY = """() => {
  const widget = window.jupyterapp?.shell.currentWidget;
  const kernel = widget?.sessionContext?.session?.kernel;
  return widget?.context?.isReady && widget.content.model.cells.length > 0 &&
    kernel?.status === "idle";
}"""
# Go where a reader is who has run the notebook and goes back to its beginning.
TO_START = """() => {
  const notebook = jupyterapp.shell.currentWidget.content;
  notebook.mode = "command";
  notebook.activeCellIndex = 0;
  notebook.activate();
}"""
ERRORS = """() => {
  const found = [];
  for (const cell of jupyterapp.shell.currentWidget.content.model.cells) {
    if (cell.type !== "code") continue;
    for (let i = 0; i < cell.outputs.length; i++) {
      const output = cell.outputs.get(i).toJSON();
      const is_stderr = output.output_type === "stream" && output.name === "stderr";
      if (output.output_type === "error") found.push(output.evalue);
      if (is_stderr) found.push([output.text].flat().join(""));
    }
  }
  return found;
}"""
EXECUTE = """async (code) => {
  const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
  const future = kernel.requestExecute({ code });
  let said = "";
  future.onIOPub = ({ content }) => { said += content.text ?? content.evalue ?? ""; };
  const { content } = await future.done;
  return { said, status: content.status };
}"""
NOT_RUN = """() => [...jupyterapp.shell.currentWidget.content.model.cells].filter(
  (cell) => cell.type === "code" && !cell.executionCount
).length"""
# Time runs in the page: from the command to a frame that holds a decoded picture.
BEGIN_RUN = """async () => {
  const isShown = (it) => it.complete && it.naturalWidth > 0;
  const start = performance.now();
  let isRunning = true;
  window.runOfAllCells = jupyterapp.commands.execute("notebook:run-all-cells")
    .finally(() => { isRunning = false; });
  while (![...document.querySelectorAll(".jp-OutputArea img")].some(isShown)) {
    if (!isRunning) return Infinity;
    await new Promise(requestAnimationFrame);
  }
  return performance.now() - start;
}"""
END_RUN = "async () => { await window.runOfAllCells }"
SHUT_DOWN = """async () => {
  await jupyterapp.shell.currentWidget.sessionContext.shutdown();
}"""
CONTENT = "() => JSON.stringify(jupyterapp.shell.currentWidget.content.model.toJSON())"
# Mean and neighbouring differences of the luminance that the eye gets, of an image
# or a canvas, in codes of 8 bits.
MEASURE = """(node) => {
  const canvas = document.createElement("canvas");
  canvas.width = node.naturalWidth ?? node.width;
  canvas.height = node.naturalHeight ?? node.height;
  const brush = canvas.getContext("2d", { willReadFrequently: true });
  brush.drawImage(node, 0, 0);
  const { data } = brush.getImageData(0, 0, canvas.width, canvas.height);
  let sum = 0, rough = 0, last = 0;
  for (let i = 0; i < data.length; i += 4) {
    const luma = 0.2126 * data[i] + 0.7152 * data[i + 1] + 0.0722 * data[i + 2];
    sum += luma;
    if ((i / 4) % canvas.width) rough += (luma - last) ** 2;
    last = luma;
  }
  const count = data.length / 4;
  return {
    width: canvas.width,
    height: canvas.height,
    mean: sum / count,
    local_contrast: Math.sqrt(rough / count),
  };
}"""


class NotebookPage:
    """A notebook in JupyterLab."""

    def __init__(self, page, server):
        self.page = page
        self.server = server
        self.exceptions = []
        self.first_picture_ms = inf
        page.on("pageerror", lambda it: self.exceptions.append(it.stack or str(it)))

    def open(self, path):
        """Open a notebook below the server's folder, and wait for its kernel."""
        self.page.goto(self.server.address(f"doc/tree/{quote(path.as_posix())}"))
        self.page.wait_for_function(READY, timeout=RUN_S * 1e3)
        return self

    def write(self, path, cells):
        """Make a notebook of code cells below the server's folder, and open it."""
        path = self.server.folder / path
        notebook = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(cell) for cell in cells],
            metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
        )
        nbformat.write(notebook, path)
        return self.open(path.relative_to(self.server.folder))

    def run_all(self):
        """Run every cell; any error fails the test."""
        self.begin_run()
        self.page.evaluate(END_RUN)
        self.check()
        return self

    def begin_run(self):
        """Begin to run every cell until a first picture stands on the page."""
        self.first_picture_ms = self.page.evaluate(BEGIN_RUN)

    def close(self):
        """Stop the kernel too: nothing of this goes on behind the next test."""
        self.page.evaluate(SHUT_DOWN)
        self.page.context.close()

    def content(self):
        """The notebook as it stands, with the outputs of its cells."""
        return nbformat.reads(self.page.evaluate(CONTENT), as_version=4)

    def check(self):
        """No cell has ended in an error or was left out, and no script has failed."""
        errors = self.page.evaluate(ERRORS)
        assert not errors, errors
        left_out = self.page.evaluate(NOT_RUN)
        assert left_out == 0, f"{left_out} cells were not run."
        assert not self.exceptions, self.exceptions

    def execute(self, code):
        """Do something in the notebook's kernel; what that prints."""
        answer = self.page.evaluate(EXECUTE, code)
        assert answer["status"] == "ok", answer["said"]
        return answer["said"].strip()

    def output(self, number):
        """What the code cell of that number has put on the page."""
        return self.page.locator(".jp-CodeCell").nth(number).locator(".jp-OutputArea")

    def use_dark_theme(self):
        self._use_theme("JupyterLab Dark", is_light="false")

    def use_light_theme(self):
        self._use_theme("JupyterLab Light", is_light="true")

    def _use_theme(self, theme, *, is_light):
        self.page.evaluate(
            "async (theme) => {"
            " await jupyterapp.commands.execute('apputils:change-theme', { theme }) }",
            theme,
        )
        self.page.wait_for_selector(
            f"body[data-jp-theme-light='{is_light}']", state="attached"
        )
        # JupyterLab fails on the next theme while its sign of this one fades out.
        self.page.wait_for_selector("#jupyterlab-splash", state="detached")


def slider(within, label):
    """The handle of a slider by the words before it."""
    rows = within.locator(".widget-hslider:visible", has_text=label)
    return rows.locator(".noUi-handle").first


def drag(handle, share):
    """Drag a slider's handle over a share of its track."""
    handle.scroll_into_view_if_needed()
    track = handle.locator("xpath=ancestor::*[contains(@class,'noUi-target')]")
    box, mouse = handle.bounding_box(), handle.page.mouse
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    to = x + share * track.bounding_box()["width"]
    mouse.move(x, y)
    mouse.down()
    mouse.move((x + to) / 2, y, steps=3)
    mouse.move(to, y, steps=3)
    mouse.up()


def eventually(read, is_so, *, within_s=ANSWER_S):
    """What is read once it is so: kernel and browser answer in their own time."""
    deadline = time.monotonic() + within_s
    while not is_so(value := read()):
        assert time.monotonic() < deadline, f"It stays at {value}."
        time.sleep(0.1)
    return value


def measured(picture):
    """What an image or a canvas on the page holds; see `MEASURE`."""
    return picture.evaluate(MEASURE)
