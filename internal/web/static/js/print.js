// Buttons that print the page.
export function start(root) {
  for (const button of root.querySelectorAll("[data-print]")) {
    if (button.dataset.running) continue;
    button.dataset.running = "yes";
    button.addEventListener("click", () => window.print());
  }
}
