// The ticking clock, the button held to stop, and the ten seconds to take back.
// Markup: <time data-started-at="2026-06-03T05:40:00Z" data-paused-seconds="0">1:37</time> (frozen when
// data-paused-at is there); <button class="hold" data-hold> inside its form; <form class="take-back"
// data-seconds="10"> with a <span data-left>. Without script the page shows the time at which it was loaded, the
// button stops at one press, and the take-back form stays until the next page; with it only its sentence does.
const HOLD_MS = 800;

function written(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const two = (n) => String(n).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor((whole % 3600) / 60))}:${two(whole % 60)}`;
}

function tick(element) {
  const from = Date.parse(element.dataset.startedAt);
  const paused = Number(element.dataset.pausedSeconds || 0);
  const until = () => (element.dataset.pausedAt ? Date.parse(element.dataset.pausedAt) : Date.now());
  const show = () => { element.textContent = written((until() - from) / 1000 - paused); };
  show();
  if (!element.dataset.pausedAt) setInterval(show, 1000);
}

// Water drops press buttons; only a finger that stays for 0.8 s does. The keyboard and a switch press as usual.
function hold(button) {
  let timer = null;
  const label = button.querySelector("[data-hold-word]");
  if (label) label.textContent = "Hold to stop";
  const let_go = () => {
    clearTimeout(timer);
    timer = null;
    button.classList.remove("held");
  };
  button.addEventListener("pointerdown", (event) => {
    if (event.button > 0) return;
    button.classList.add("held");
    timer = setTimeout(() => {
      button.classList.remove("held");
      navigator.vibrate?.(80);
      button.form.requestSubmit(button);
    }, HOLD_MS);
  });
  for (const name of ["pointerup", "pointerleave", "pointercancel"]) button.addEventListener(name, let_go);
  button.addEventListener("contextmenu", (event) => event.preventDefault());
  button.addEventListener("click", (event) => {
    const by_keyboard = event.detail === 0 && event.pointerType !== "touch";
    if (!by_keyboard) event.preventDefault(); // the hold has pressed already; the click behind it is none
  });
}

function take_back(form) {
  const left = form.querySelector("[data-left]");
  let seconds = Number(form.dataset.seconds || 10);
  const timer = setInterval(() => {
    // Whoever is at the button with keyboard or screen reader keeps it (WCAG 2.2.1, time can be extended).
    if (form.contains(document.activeElement)) return;
    seconds -= 1;
    if (left) left.textContent = String(seconds);
    if (seconds > 0) return;
    clearInterval(timer);
    form.replaceWith(form.querySelector("[role=status]")); // what was done stays to be read
  }, 1000);
}

document.querySelectorAll("[data-started-at]").forEach(tick);
document.querySelectorAll("[data-hold]").forEach(hold);
document.querySelectorAll("form.take-back").forEach(take_back);
