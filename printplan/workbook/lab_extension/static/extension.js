// Runs the one page that is this program's own as soon as it is opened, so that a
// person sees a picture without meeting code. JupyterLab runs nothing by itself, and
// with reason: a notebook can come from anywhere. So only a notebook whose every cell
// is as this program wrote it is run; it is known by the hash of its cells.
//
// A prebuilt extension without a build step: what JupyterLab loads is a container of
// modules (webpack's module federation), which is an object with two functions.
(() => {
  const NAME = "printplan-runs-its-own-page";
  const own = fetch(new URL("own.json", document.currentScript.src))
    .then((answer) => (answer.ok ? answer.json() : []))
    .catch(() => []);

  async function hashOf(cells) {
    const told = cells.map((cell) => [cell.type, cell.sharedModel.getSource()]);
    const bytes = new TextEncoder().encode(JSON.stringify(told));
    const digest = await crypto.subtle.digest("SHA-256", bytes);
    return [...new Uint8Array(digest)]
      .map((byte) => byte.toString(16).padStart(2, "0"))
      .join("");
  }

  function isNotebook(widget) {
    return Boolean(widget?.content?.model?.cells && widget.sessionContext);
  }

  async function isOwn(notebook) {
    if (!crypto.subtle) return false;
    const hash = await hashOf([...notebook.content.model.cells]);
    return (await own).includes(hash);
  }

  // The page alone: its code stays folded, and nothing stands beside it.
  function makeRoom(app, notebook) {
    notebook.addClass("printplan-own-page");
    notebook.toolbar.hide();
    app.shell.collapseLeft?.();
    app.shell.collapseRight?.();
  }

  // `commands.execute` acts on the notebook that is in front.
  async function run(app, notebook) {
    app.shell.activateById(notebook.id);
    await app.commands.execute("notebook:run-all-cells");
    notebook.content.node.scrollTop = 0;
    notebook.content.mode = "command"; // so that Tab goes on, and types nothing
  }

  async function watch(app, notebook) {
    await notebook.context.ready;
    await notebook.sessionContext.ready;
    if (!(await isOwn(notebook))) return;
    makeRoom(app, notebook);
    let isRunning = false;
    const again = async () => {
      if (isRunning) return;
      isRunning = true;
      try {
        if (await isOwn(notebook)) await run(app, notebook);
      } finally {
        isRunning = false;
      }
    };
    let wasRestarted = false;
    notebook.sessionContext.statusChanged.connect((_, status) => {
      if (["restarting", "autorestarting", "dead"].includes(status)) wasRestarted = true;
      if (status !== "idle" || !wasRestarted) return;
      wasRestarted = false;
      again();
    });
    // The page's own button, for a kernel that was lost.
    notebook.node.addEventListener("printplan-start-again", async () => {
      await notebook.sessionContext.restartKernel();
      wasRestarted = false;
      await again();
    });
    await again();
  }

  function activate(app) {
    const known = new WeakSet();
    const look = () => {
      for (const widget of app.shell.widgets("main")) {
        if (!isNotebook(widget) || known.has(widget)) continue;
        known.add(widget);
        watch(app, widget).catch(console.error);
      }
    };
    app.restored.then(() => {
      look();
      app.shell.currentChanged?.connect(look);
      app.shell.layoutModified?.connect(look);
    });
  }

  const plugin = {
    id: `${NAME}:plugin`,
    description: "Runs printplan's own unedited page when it is opened.",
    autoStart: true,
    activate,
  };
  const style = document.createElement("style");
  style.textContent = `
    .printplan-own-page .jp-InputArea, .printplan-own-page .jp-InputPrompt,
    .printplan-own-page .jp-OutputPrompt, .printplan-own-page .jp-Collapser,
    .printplan-own-page .jp-OutputArea-promptOverlay,
    .printplan-own-page .jp-Placeholder, .printplan-own-page .jp-Notebook-footer,
    .printplan-own-page .jp-CellHeader, .printplan-own-page .jp-CellFooter,
    .printplan-own-page .jp-MarkdownCell,
    .printplan-own-page .jp-Cell-inputWrapper { display: none !important; }
    .printplan-own-page .jp-Notebook::after,
    .printplan-own-page .jp-WindowedPanel-inner::after,
    .printplan-own-page .jp-WindowedPanel-outer::after { display: none !important; }
    .printplan-own-page .jp-Notebook, .printplan-own-page .jp-Notebook > *,
    .printplan-own-page .jp-WindowedPanel-outer { padding: 0 !important; }
    .printplan-own-page .jp-Cell, .printplan-own-page .jp-OutputArea-output {
      padding: 0 !important; border: none !important; margin: 0 !important;
      outline: none !important; box-shadow: none !important;
      overflow: visible !important;
    }
    .printplan-own-page .jp-WindowedPanel-viewport { padding: 2px !important; }
    .printplan-own-page .jp-Cell-outputWrapper::before,
    .printplan-own-page .jp-Cell::before, .printplan-own-page .jp-Cell::after {
      display: none !important;
    }
    .printplan-own-page .jp-OutputArea-child, .printplan-own-page .jp-OutputArea,
    .printplan-own-page .jp-Cell-outputArea { overflow: visible !important; }
  `;
  document.head.append(style);

  window._JUPYTERLAB ??= {};
  window._JUPYTERLAB[NAME] = {
    init() {},
    get: async () => () => ({ __esModule: true, default: plugin }),
  };
})();
