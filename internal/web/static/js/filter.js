// Narrows a list or a table by typing. Every word must occur; letter case and accents do not matter.

export function plain(text) {
  return text.normalize("NFD").replace(/\p{Diacritic}/gu, "").toLowerCase();
}

export function start(root) {
  for (const field of root.querySelectorAll("[data-filter]")) {
    if (field.dataset.running) continue;
    field.dataset.running = "yes";
    const said = document.getElementById(field.id + "-count");
    const sift = () => {
      const list = document.getElementById(field.dataset.filter);
      if (!list) return;
      const words = plain(field.value).split(/\s+/).filter(Boolean);
      const rows = Array.from(list.tBodies?.[0]?.rows ?? list.children);
      let shown = 0;
      for (const row of rows) {
        const text = plain(row.dataset.filterText ?? row.textContent);
        row.hidden = !words.every((w) => text.includes(w));
        if (!row.hidden) shown++;
      }
      if (said) said.textContent = words.length ? field.dataset.shown.replace("{shown}", shown).replace("{all}", rows.length) : "";
    };
    field.addEventListener("input", sift);
    field.addEventListener("keydown", (e) => {
      if (e.key === "Enter") e.preventDefault();
    });
    if (field.value) sift();
  }
}
