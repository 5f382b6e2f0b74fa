// The agreed limit counts on while a clock runs: per cent used, minutes left, and the sentence for what is reached.
// Markup: <div data-limit data-per-cent="94.6667" data-per-cent-an-hour="28"> with <p data-from="80" hidden> for each
// signal, <span data-used>, <span data-minutes> inside <span data-while-left>. Without script the page shows what was
// true when it was loaded. The per cent say nothing of money to those who may not see prices.
const EVERY_MS = 5000;
const HOUR_MS = 3600 * 1000;
const A_HAIR = 1e-6;

function count(note) {
  const began = Date.now();
  const from = Number(note.dataset.perCent);
  const hourly = Number(note.dataset.perCentAnHour);
  const told = [...note.querySelectorAll("[data-from]")];
  const used = note.querySelector("[data-used]");
  const minutes = note.querySelector("[data-minutes]");
  const left = note.querySelector("[data-while-left]");
  let reached = null;

  function show() {
    const now = from + (hourly * (Date.now() - began)) / HOUR_MS;
    const signal = Math.max(...told.map((p) => Number(p.dataset.from)).filter((per_cent) => now + A_HAIR >= per_cent));
    const written = String(Math.min(100, Math.floor(now + A_HAIR)));
    if (used.textContent !== written) used.textContent = written;
    if (minutes && hourly) {
      const whole = String(Math.max(0, Math.floor(((100 - now) / hourly) * 60 + A_HAIR)));
      if (minutes.textContent !== whole) minutes.textContent = whole;
    }
    if (signal === reached) return;
    if (reached !== null) navigator.vibrate?.([200, 100, 200]);
    reached = signal;
    for (const p of told) p.hidden = Number(p.dataset.from) !== signal;
    if (left) left.hidden = signal >= 100;
    note.classList.toggle("halt", signal >= 95);
    note.classList.toggle("look", signal === 80);
  }

  show();
  if (hourly) setInterval(show, EVERY_MS);
}

document.querySelectorAll("[data-limit]").forEach(count);
