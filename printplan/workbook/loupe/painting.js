// How do the kernel's pixels get onto the canvas, one for one?

// A side as the canvas will show it: every pixel repeated, cut to the view. It begins
// at (left, top) of the view, which are 0 or more once it is cut.
function laidOut(cut, buffer, left, top, width, height) {
  const { columns, rows, repeat } = cut;
  const x0 = Math.max(left, 0), y0 = Math.max(top, 0);
  const x1 = Math.min(left + columns * repeat, width);
  const y1 = Math.min(top + rows * repeat, height);
  if (x1 <= x0 || y1 <= y0) return null;
  // A copy begins at a multiple of four bytes, which a message's pixels may not.
  const bytes = buffer.buffer.slice(
    buffer.byteOffset, buffer.byteOffset + buffer.byteLength
  );
  if (repeat === 1 && x0 === left && y0 === top && x1 - x0 === columns) {
    const all = new ImageData(new Uint8ClampedArray(bytes), columns, rows);
    return { image: all, left: x0, top: y0, right: x1, bottom: y1 };
  }
  const from = new Uint32Array(bytes);
  const image = new ImageData(x1 - x0, y1 - y0);
  const to = new Uint32Array(image.data.buffer);
  const place = new Int32Array(x1 - x0);
  for (let x = x0; x < x1; x++) place[x - x0] = Math.floor((x - left) / repeat);
  for (let y = y0; y < y1; y++) {
    const row = Math.floor((y - top) / repeat) * columns;
    const out = (y - y0) * (x1 - x0);
    for (let x = 0; x < place.length; x++) to[out + x] = from[row + place[x]];
  }
  return { image, left: x0, top: y0, right: x1, bottom: y1 };
}

// Put the columns of a side between two edges of the view, moved by whole pixels.
function putSide(context, side, from, until, dx, dy) {
  if (!side) return;
  const x0 = Math.max(side.left, from - dx), x1 = Math.min(side.right, until - dx);
  if (x1 <= x0) return;
  context.putImageData(
    side.image, side.left + dx, side.top + dy,
    x0 - side.left, 0, x1 - x0, side.bottom - side.top
  );
}

// Both sides and the ground about them. `shift` is where a picture that was made for
// an earlier place belongs now; pixels move as a whole and are never interpolated.
function paintSides(context, sides, divider, shift, ground) {
  const { width, height } = context.canvas;
  context.fillStyle = ground;
  context.fillRect(0, 0, width, height);
  const [dx, dy] = shift;
  if (sides.length === 1) {
    putSide(context, sides[0], 0, width, dx, dy);
  } else {
    putSide(context, sides[0], 0, divider, dx, dy);
    putSide(context, sides[1], divider, width, dx, dy);
  }
}
