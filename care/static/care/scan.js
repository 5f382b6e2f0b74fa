// A hand scanner types like a keyboard, wherever the page was touched last: what it types goes into the field.
const field = document.querySelector(".scan input[name=scan]");

if (field) {
  document.addEventListener("keydown", (event) => {
    const elsewhere = event.target.closest("input, textarea, select, [contenteditable]") === null;
    if (!elsewhere || event.key.length !== 1 || event.key === " " || event.ctrlKey || event.metaKey || event.altKey) return;
    field.focus();
  });
}
