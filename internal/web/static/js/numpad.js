// Keys on the page that fill a number field. The keyboard does the same: L and H give LO and HI, E begins an error code.

// after gives what stands in the field once a key is pressed. room is the greatest number of characters.
export function after(value, key, room) {
  if (key === "delete") return value === "LO" || value === "HI" ? "" : value.slice(0, -1);
  if (key === "LO" || key === "HI" || key === "E") return key;
  if (value === "LO" || value === "HI") value = "";
  if (key === "." && (value === "" || value.includes(".") || value.startsWith("E"))) return value;
  return value.length < room ? value + key : value;
}

export function start(root) {
  for (const pad of root.querySelectorAll("[data-pad]")) {
    const field = pad.querySelector("input");
    const keys = pad.querySelector(".pad-keys");
    if (!field || !keys || !keys.hidden) continue;
    keys.hidden = false;
    if (matchMedia("(pointer: coarse)").matches) field.inputMode = "none";
    const bar = document.querySelector(".bar"); // it may lie over the last row of keys
    const floor = Math.min(innerHeight, bar?.getBoundingClientRect().top ?? innerHeight);
    if (field.autofocus && keys.getBoundingClientRect().bottom > floor) keys.scrollIntoView({ block: "end" });
    const known = new Set(Array.from(keys.querySelectorAll("[data-key]"), (b) => b.dataset.key));
    const press = (key) => {
      field.value = after(field.value, key, field.maxLength > 0 ? field.maxLength : 8);
      field.dispatchEvent(new Event("input", { bubbles: true }));
    };
    keys.addEventListener("click", (e) => {
      const button = e.target.closest("[data-key]");
      if (button) press(button.dataset.key);
    });
    field.addEventListener("keydown", (e) => {
      if (e.ctrlKey || e.metaKey || e.altKey || e.key.length > 1) return;
      const key = { l: "LO", h: "HI", e: "E", ",": "." }[e.key.toLowerCase()] ?? e.key;
      const word = field.value === "LO" || field.value === "HI";
      if (known.has(key) && (key.length > 1 || key === "E" || key === "." || word)) {
        e.preventDefault();
        press(key);
      } else if (!known.has(key)) {
        e.preventDefault();
      }
    });
  }
}
