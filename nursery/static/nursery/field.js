// The one field: "/" jumps to it from anywhere but a field; the button beside it switches that off and on
// (WCAG 2.1.4: a shortcut of one character can be turned off). The person's own setting is where it starts; the
// button's choice stays in this browser.
const field = document.querySelector("[data-find]");
const slash = document.querySelector("[data-slash]");
const KEY = "heelin.slash";

const isOn = () => {
  try { return (localStorage.getItem(KEY) ?? field.dataset.find) !== "off"; } catch { return field.dataset.find !== "off"; }
};
const keep = (on) => {
  try { localStorage.setItem(KEY, on ? "on" : "off"); } catch { /* private window: holds for this page only */ }
};
const typing = (target) => target.closest("input, textarea, select, [contenteditable]") !== null;

if (field && slash) {
  let on = isOn();
  const show = () => slash.setAttribute("aria-pressed", String(on));
  slash.hidden = false;
  show();
  slash.addEventListener("click", () => { on = !on; keep(on); show(); });
  document.addEventListener("keydown", (event) => {
    if (!on || event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
    event.preventDefault();
    field.focus();
    field.select();
  });
}
