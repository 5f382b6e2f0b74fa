// One photo at a time: the phone's own camera behind a file field, a preview, a smaller copy, sent with progress.
// Markup: <form class="camera" data-camera method="post" enctype="multipart/form-data"> with a file input (accept,
// capture="environment"), a <canvas hidden>, a <progress hidden max="100">, a <p role="status"> and a submit button.
// Without script the same form posts the same file. The server decides what is kept; nothing here is trusted.
const LONGEST = 2400; // pixels; eight photos of a tree stay below 10 MB
const QUALITY = 0.88;

async function drawn(file, canvas) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  canvas.hidden = false;
  return scale;
}

// A photo straight from the camera keeps its own bytes (with the capture time) unless it is too large to send.
async function toSend(file, canvas, scale) {
  if (scale === 1) return file;
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
  return blob && blob.size < file.size ? new File([blob], file.name.replace(/\.\w+$/, ".jpg"), { type: "image/jpeg" }) : file;
}

function send(form, field, file, bar, say) {
  const data = new FormData(form);
  data.set(field.name, file, file.name);
  const taken = form.querySelector("[data-taken-at]");
  if (taken) data.set(taken.name, new Date(field.files[0].lastModified).toISOString());
  const request = new XMLHttpRequest(); // fetch tells no progress of what is sent
  request.open("POST", form.action);
  request.upload.addEventListener("progress", (event) => {
    if (event.lengthComputable) bar.value = Math.round((100 * event.loaded) / event.total);
  });
  request.addEventListener("load", () => {
    const answer = new DOMParser().parseFromString(request.responseText, "text/html");
    if (request.status < 400 && !answer.querySelector(".errors, .error")) {
      window.location.assign(request.responseURL);
      return;
    }
    // Not taken: the ordinary post shows the sentence on a page of its own. Nothing was written, so nothing doubles.
    form.submit();
  });
  request.addEventListener("error", () => {
    bar.hidden = true;
    say.textContent = "No connection: the photo is still here. Press again when there is signal.";
    form.querySelectorAll("button").forEach((button) => { button.disabled = false; });
  });
  request.send(data);
}

function start(form) {
  const field = form.querySelector("input[type=file]");
  const canvas = form.querySelector("canvas");
  const bar = form.querySelector("progress");
  const say = form.querySelector("[role=status]");
  let ready = null;

  // Whoever comes back to a page the browser kept in memory finds its buttons as they were before the photo was sent.
  window.addEventListener("pageshow", () => {
    bar.hidden = true;
    form.querySelectorAll("button").forEach((button) => { button.disabled = false; });
  });
  field.addEventListener("change", async () => {
    ready = null;
    const file = field.files[0];
    if (!file) return;
    try {
      ready = await toSend(file, canvas, await drawn(file, canvas));
      say.textContent = "Look at the picture; take it again if the foliage is not sharp.";
    } catch {
      canvas.hidden = true;
      say.textContent = "This browser cannot show the picture; it can still be sent.";
    }
  });
  form.addEventListener("submit", (event) => {
    if (!ready || event.submitter?.hasAttribute("data-skip")) return;
    event.preventDefault();
    form.querySelectorAll("button").forEach((button) => { button.disabled = true; });
    bar.hidden = false;
    say.textContent = "Sending the photo …";
    send(form, field, ready, bar, say);
  });
}

document.querySelectorAll("[data-camera]").forEach(start);
