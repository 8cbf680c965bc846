// Counts down by the server's clock: the page says what time it was there when it was rendered, so a phone whose clock is
// wrong still counts right. Speaks once, at the end.

export function span(seconds) {
  const h = Math.floor(seconds / 3600);
  const m = Math.floor(seconds / 60) % 60;
  const s = String(seconds % 60).padStart(2, "0");
  return h > 0 ? `${h}:${String(m).padStart(2, "0")}:${s}` : `${m}:${s}`;
}

function run(box) {
  const end = Number(box.dataset.countdown);
  const skew = Number(box.dataset.now) - Date.now();
  const total = Number(box.dataset.seconds);
  const left = box.querySelector("[data-left]");
  const bar = box.querySelector("progress");
  if (!left || !Number.isFinite(end)) return;
  const tick = () => {
    if (!box.isConnected) return clearInterval(clock);
    const seconds = Math.max(0, Math.ceil((end - Date.now() - skew) / 1000));
    left.textContent = span(seconds);
    if (bar) bar.value = total - seconds;
    if (seconds > 0) return;
    clearInterval(clock);
    box.classList.add("countdown-done");
    box.querySelector(".countdown-text").textContent = box.dataset.done;
    box.querySelector("[data-said]").textContent = box.dataset.done;
    box.querySelector(".countdown-until")?.remove();
    bar?.remove();
    box.dispatchEvent(new CustomEvent("countdown-done", { bubbles: true }));
  };
  const clock = setInterval(tick, 250);
  tick();
}

export function start(root) {
  for (const box of root.querySelectorAll("[data-countdown]")) {
    if (box.dataset.running) continue;
    box.dataset.running = "yes";
    run(box);
  }
}
