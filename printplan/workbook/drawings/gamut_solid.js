// A gamut as a solid to turn, with a second one as a wireframe round it.
//
// Everything is drawn into one array of pixels with a depth for each, so that what
// lies behind is hidden as it should be, and put on a plain 2-D canvas.

const GROUND = [110, 110, 110];
const WORDS = "rgb(245, 245, 245)";
const LINE = [245, 245, 245];
const AXIS = [30, 30, 30];
const CENTRE_L = 50;
const HIDDEN = 0.16;
const TURN_STEP = Math.PI / 24;
const SCALE_STEP = 1.15;
const START = { turn: -0.6, tilt: 0.42, scale: 1 };
const WAITING = "Waiting for the kernel. If nothing appears, run this cell again.";
const HELP =
  "Drag, or arrow keys: turn.   + and −, or the wheel after a click: scale.   " +
  "Home: as at first.";
const TILT_LIMIT = Math.PI / 2;
const SCALE_RANGE = [0.4, 8];

function clamped(value, low, high) {
  return Math.min(Math.max(value, low), high);
}

// Numbers of one message: float32 points, uint32 corners, uint8 colours, and lines as
// float32 points with the number of points in each.
function solidFrom(buffers) {
  const view = (place, Kind) => {
    const bytes = buffers[place];
    // A copy begins at a multiple of the number's size, which a message's may not.
    return new Kind(
      bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength)
    );
  };
  return {
    points: view(0, Float32Array),
    corners: view(1, Uint32Array),
    colours: view(2, Uint8Array),
    linePoints: view(3, Float32Array),
    lineLengths: view(4, Uint32Array),
  };
}

class Raster {
  constructor(width, height) {
    this.width = width;
    this.height = height;
    this.image = new ImageData(width, height);
    this.depth = new Float32Array(width * height);
    this.traced = new Uint8Array(width * height);
  }

  clear() {
    const words = new Uint32Array(this.image.data.buffer);
    const [red, green, blue] = GROUND;
    words.fill(((255 << 24) | (blue << 16) | (green << 8) | red) >>> 0);
    this.depth.fill(-Infinity);
    this.traced.fill(0);
  }

  // Corners as x, y, depth; colour of each corner, from 0 to 255.
  triangle(points, colours, a, b, c) {
    const { width, height, depth } = this;
    const data = this.image.data;
    const ax = points[3 * a], ay = points[3 * a + 1];
    const bx = points[3 * b], by = points[3 * b + 1];
    const cx = points[3 * c], cy = points[3 * c + 1];
    const area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
    if (area === 0) return;
    const left = Math.max(Math.ceil(Math.min(ax, bx, cx) - 0.5), 0);
    const right = Math.min(Math.floor(Math.max(ax, bx, cx) - 0.5), width - 1);
    const top = Math.max(Math.ceil(Math.min(ay, by, cy) - 0.5), 0);
    const bottom = Math.min(Math.floor(Math.max(ay, by, cy) - 0.5), height - 1);
    const az = points[3 * a + 2], bz = points[3 * b + 2], cz = points[3 * c + 2];
    for (let y = top; y <= bottom; y++) {
      const py = y + 0.5;
      for (let x = left; x <= right; x++) {
        const px = x + 0.5;
        const u = ((bx - px) * (cy - py) - (by - py) * (cx - px)) / area;
        const v = ((cx - px) * (ay - py) - (cy - py) * (ax - px)) / area;
        const w = 1 - u - v;
        if (u < -1e-6 || v < -1e-6 || w < -1e-6) continue;
        const z = u * az + v * bz + w * cz;
        const place = y * width + x;
        if (z <= depth[place]) continue;
        depth[place] = z;
        for (let k = 0; k < 3; k++) {
          data[4 * place + k] =
            u * colours[3 * a + k] + v * colours[3 * b + k] + w * colours[3 * c + k];
        }
      }
    }
  }

  // From one point to the next, bold where it is in front, a trace where hidden.
  line(from, to, colour, thickness) {
    const length = Math.max(Math.abs(to[0] - from[0]), Math.abs(to[1] - from[1]), 1);
    const steps = Math.ceil(length);
    const half = (thickness - 1) / 2;
    for (let step = 0; step <= steps; step++) {
      const share = step / steps;
      const x = from[0] + share * (to[0] - from[0]);
      const y = from[1] + share * (to[1] - from[1]);
      const z = from[2] + share * (to[2] - from[2]) + 0.5;
      for (let down = -half; down <= half; down++) {
        for (let across = -half; across <= half; across++) {
          this.dot(Math.round(x + across), Math.round(y + down), z, colour);
        }
      }
    }
  }

  dot(x, y, z, colour) {
    if (x < 0 || y < 0 || x >= this.width || y >= this.height) return;
    const place = y * this.width + x;
    const data = this.image.data;
    const isInFront = z >= this.depth[place];
    // A trace is laid on once, though a line steps on its dots several times.
    if (!isInFront && this.traced[place]) return;
    this.traced[place] = 1;
    const share = isInFront ? 1 : HIDDEN;
    for (let k = 0; k < 3; k++) {
      const old = data[4 * place + k];
      data[4 * place + k] = old + share * (colour[k] - old);
    }
    if (isInFront) this.depth[place] = z;
  }
}

function render({ model, el }) {
  const root = document.createElement("div");
  root.className = "printplan-solid";
  const canvas = document.createElement("canvas");
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "application");
  canvas.setAttribute("aria-roledescription", "solid that can be turned");
  canvas.setAttribute("aria-label", model.get("description"));
  // The page's own keys would otherwise be heard as well.
  canvas.setAttribute("data-lm-suppress-shortcuts", "true");
  const legend = document.createElement("div");
  legend.className = "printplan-solid-legend";
  legend.textContent = model.get("legend");
  const help = document.createElement("div");
  help.className = "printplan-solid-help";
  help.textContent = WAITING;
  root.append(canvas, legend, help);
  el.append(root);

  const asked = `${Date.now()}-${Math.random()}`;
  const context = canvas.getContext("2d", { alpha: false });
  let solid = null;
  let view = { ...START };
  let raster = null;
  let isWaiting = false;

  // Where a colour lies on the canvas, and how near: right, down, towards the eye.
  function projector() {
    const { width, height } = raster;
    const size = (Math.min(width, height) / 250) * view.scale;
    const [sinTurn, cosTurn] = [Math.sin(view.turn), Math.cos(view.turn)];
    const [sinTilt, cosTilt] = [Math.sin(view.tilt), Math.cos(view.tilt)];
    return (l, a, b, out, place) => {
      const across = a * cosTurn - b * sinTurn;
      const away = a * sinTurn + b * cosTurn;
      const up = l - CENTRE_L;
      out[place] = width / 2 + across * size;
      out[place + 1] = height / 2 - (up * cosTilt + away * sinTilt) * size;
      out[place + 2] = (up * sinTilt - away * cosTilt) * size;
    };
  }

  // Pixels drawn for one of the page.
  function density() {
    return raster.width / (canvas.clientWidth || raster.width);
  }

  function draw() {
    isWaiting = false;
    if (!raster || !solid) return;
    raster.clear();
    const project = projector();
    const { points, corners, colours, linePoints, lineLengths } = solid;
    const placed = new Float32Array(points.length);
    for (let i = 0; i < points.length; i += 3) {
      project(points[i], points[i + 1], points[i + 2], placed, i);
    }
    for (let i = 0; i < corners.length; i += 3) {
      raster.triangle(placed, colours, corners[i], corners[i + 1], corners[i + 2]);
    }
    const thick = Math.max(1, Math.round(1.1 * density()));
    const labels = drawAxes(project, thick);
    const one = [0, 0, 0];
    const next = [0, 0, 0];
    let first = 0;
    for (const length of lineLengths) {
      for (let i = first; i < first + length - 1; i++) {
        project(linePoints[3 * i], linePoints[3 * i + 1], linePoints[3 * i + 2], one, 0);
        const j = 3 * (i + 1);
        project(linePoints[j], linePoints[j + 1], linePoints[j + 2], next, 0);
        raster.line(one, next, LINE, thick);
      }
      first += length;
    }
    context.putImageData(raster.image, 0, 0);
    writeLabels(labels);
    canvas.dataset.turn = view.turn.toFixed(3);
    canvas.dataset.tilt = view.tilt.toFixed(3);
    canvas.dataset.scale = view.scale.toFixed(3);
  }

  function drawAxes(project, thick) {
    const reach = model.get("axis_reach");
    const ends = [
      [[0, 0, 0], [100, 0, 0]],
      [[CENTRE_L, -reach, 0], [CENTRE_L, reach, 0]],
      [[CENTRE_L, 0, -reach], [CENTRE_L, 0, reach]],
    ];
    const names = [
      ["0", "L* 100"],
      [`−${reach}`, `a* ${reach}`],
      [`−${reach}`, `b* ${reach}`],
    ];
    const labels = [];
    ends.forEach((pair, axis) => {
      const placed = pair.map(([l, a, b]) => {
        const out = [0, 0, 0];
        project(l, a, b, out, 0);
        return out;
      });
      raster.line(placed[0], placed[1], AXIS, thick);
      placed.forEach((end, which) => labels.push([end, names[axis][which]]));
    });
    return labels;
  }

  function writeLabels(labels) {
    const ratio = density();
    context.font = `${13 * ratio}px sans-serif`;
    context.textAlign = "center";
    context.textBaseline = "middle";
    context.lineJoin = "round";
    context.lineWidth = 4 * ratio;
    context.strokeStyle = "rgb(60, 60, 60)";
    context.fillStyle = WORDS;
    for (const [[x, y], name] of labels) {
      const away = 16 * ratio;
      const [dx, dy] = [x - raster.width / 2, y - raster.height / 2];
      const far = Math.hypot(dx, dy) || 1;
      const [left, top] = [x + (dx / far) * away, y + (dy / far) * away];
      context.strokeText(name, left, top);
      context.fillText(name, left, top);
    }
  }

  function redraw() {
    if (isWaiting) return;
    isWaiting = true;
    requestAnimationFrame(draw);
  }

  function look(change) {
    view = { ...view, ...change };
    view.tilt = clamped(view.tilt, -TILT_LIMIT, TILT_LIMIT);
    view.scale = clamped(view.scale, ...SCALE_RANGE);
    redraw();
  }

  function fit(deviceWidth, deviceHeight) {
    if (!deviceWidth || !deviceHeight) return;
    // Coarse screens get four pixels for one, which the browser averages.
    const finer = (window.devicePixelRatio || 1) < 1.5 ? 2 : 1;
    const [width, height] = [deviceWidth * finer, deviceHeight * finer];
    if (raster && raster.width === width && raster.height === height) return;
    canvas.width = width;
    canvas.height = height;
    raster = new Raster(width, height);
    redraw();
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
    sizes.observe(canvas, { box: "device-pixel-content-box" });
  } catch {
    sizes.observe(canvas);
  }

  let grip = null;
  canvas.addEventListener("pointerdown", (event) => {
    grip = [event.clientX, event.clientY];
    canvas.setPointerCapture(event.pointerId);
    canvas.focus();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!grip) return;
    const [dx, dy] = [event.clientX - grip[0], event.clientY - grip[1]];
    grip = [event.clientX, event.clientY];
    look({ turn: view.turn + dx / 120, tilt: view.tilt + dy / 120 });
  });
  const letGo = () => {
    grip = null;
  };
  canvas.addEventListener("pointerup", letGo);
  canvas.addEventListener("pointercancel", letGo);
  canvas.addEventListener(
    "wheel",
    (event) => {
      // Without the focus the wheel belongs to the page.
      if (document.activeElement !== canvas) return;
      event.preventDefault();
      look({ scale: view.scale * Math.exp(-event.deltaY / 600) });
    },
    { passive: false }
  );
  const keys = {
    ArrowLeft: () => look({ turn: view.turn - TURN_STEP }),
    ArrowRight: () => look({ turn: view.turn + TURN_STEP }),
    ArrowUp: () => look({ tilt: view.tilt - TURN_STEP }),
    ArrowDown: () => look({ tilt: view.tilt + TURN_STEP }),
    "+": () => look({ scale: view.scale * SCALE_STEP }),
    "=": () => look({ scale: view.scale * SCALE_STEP }),
    "-": () => look({ scale: view.scale / SCALE_STEP }),
    Home: () => look(START),
  };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const act = keys[event.key];
    if (!act) return;
    event.preventDefault();
    event.stopPropagation();
    act();
  });

  const receive = (message, buffers) => {
    if (message.kind !== "solid" || message.asked !== asked) return;
    solid = solidFrom(buffers);
    help.textContent = HELP;
    redraw();
  };
  model.on("msg:custom", receive);
  model.send({ kind: "solid", asked });

  return () => {
    sizes.disconnect();
    model.off("msg:custom", receive);
  };
}

export default { render };
