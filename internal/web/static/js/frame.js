// The frame of a table takes the focus only where there is something to scroll to, so that the Tab key does not stop at
// every table. Without scripts every frame takes it.
export function start(root) {
  const frames = root.querySelectorAll("[data-frame]");
  if (frames.length === 0) return;
  const look = new ResizeObserver((list) => {
    for (const { target } of list) {
      if (target.scrollWidth > target.clientWidth) target.tabIndex = 0;
      else target.removeAttribute("tabindex");
    }
  });
  for (const frame of frames) look.observe(frame);
}
