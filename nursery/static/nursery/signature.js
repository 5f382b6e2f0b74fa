// A drawn signature: pen, mouse or finger on a canvas, kept as PNG data in the form's hidden input.
// Markup: <div class="signature" data-signature><canvas></canvas><input type="hidden" name="..."> and a
// <button type="button" data-clear>. Without script, or without a steady hand, the typed name in the form is enough.
const INK = "#22302B";
const PAPER = "#FFFFFF";

function start(box) {
  const canvas = box.querySelector("canvas");
  const kept = box.querySelector("input[type=hidden]");
  const pen = canvas.getContext("2d");
  let drawn = false;
  let last = null;

  const blank = () => {
    // Drawn at twice the size at most: sharp in print, small on the wire.
    const scale = Math.min(2, window.devicePixelRatio || 1);
    canvas.width = Math.round(canvas.clientWidth * scale);
    canvas.height = Math.round(canvas.clientHeight * scale);
    pen.scale(scale, scale);
    pen.fillStyle = PAPER;
    pen.fillRect(0, 0, canvas.clientWidth, canvas.clientHeight);
    pen.strokeStyle = pen.fillStyle = INK;
    pen.lineCap = pen.lineJoin = "round";
    drawn = false;
    kept.value = "";
  };
  const spot = (event) => ({ x: event.offsetX, y: event.offsetY, width: 1.4 + 2.2 * (event.pressure || 0.5) });
  const line = (from, to) => {
    pen.lineWidth = to.width;
    pen.beginPath();
    pen.moveTo(from.x, from.y);
    pen.lineTo(to.x, to.y);
    pen.stroke();
  };
  const lift = () => {
    if (last === null) return;
    last = null;
    kept.value = canvas.toDataURL("image/png");
  };

  canvas.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary || event.button > 0) return;
    event.preventDefault();
    canvas.setPointerCapture(event.pointerId);
    last = spot(event);
    line(last, last);
    drawn = true;
  });
  canvas.addEventListener("pointermove", (event) => {
    if (last === null) return;
    const now = spot(event);
    line(last, now);
    last = now;
  });
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  box.querySelector("[data-clear]")?.addEventListener("click", blank);
  // A phone turned sideways stretches the canvas; an empty one is laid out anew, a drawn one is kept as it is.
  window.addEventListener("resize", () => { if (!drawn) blank(); });
  box.hidden = false;
  const before = kept.value;
  blank();
  if (before !== "") {
    // Drawn before the form came back with a sentence: shown again, and sent again unless it is cleared.
    const picture = new Image();
    picture.addEventListener("load", () => {
      pen.drawImage(picture, 0, 0, canvas.clientWidth, canvas.clientHeight);
      drawn = true;
      kept.value = before;
      box.dataset.shownAgain = "";
    });
    picture.src = before;
  }
}

document.querySelectorAll("[data-signature]").forEach(start);
