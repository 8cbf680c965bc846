// A form that only asks: when something is changed in it the page is asked again, and the new answer takes the place of the
// old one. The button does the same without scripts. The arrow keys raise and lower a whole number by one.

const pause = 120;

function mend(old, fresh) {
  for (const field of fresh.querySelectorAll(".field")) {
    const input = field.querySelector("[id]:is(input, select)");
    const mine = input && document.getElementById(input.id);
    const box = mine?.closest(".field");
    if (!box || !old.contains(box)) continue;
    box.className = field.className;
    box.querySelector(".wrong")?.remove();
    const wrong = field.querySelector(".wrong");
    if (wrong) box.append(wrong);
    for (const name of ["aria-invalid", "aria-describedby"]) {
      if (input.hasAttribute(name)) mine.setAttribute(name, input.getAttribute(name));
      else mine.removeAttribute(name);
    }
  }
}

export function start(root, begin) {
  for (const form of root.querySelectorAll("form[data-again]")) {
    let clock;
    let last = 0;
    const ask = async () => {
      const mine = ++last;
      const address = new URL(form.action, location.href);
      address.search = new URLSearchParams(new FormData(form));
      try {
        const reply = await fetch(address);
        const page = new DOMParser().parseFromString(await reply.text(), "text/html");
        const fresh = page.getElementById(form.dataset.again);
        const asked = page.getElementById(form.id);
        const old = document.getElementById(form.dataset.again);
        if (mine !== last || !fresh || !asked || !old) return;
        mend(form, asked);
        const open = Array.from(old.querySelectorAll("details[open][id]"), (d) => d.id);
        old.replaceWith(document.adoptNode(fresh));
        for (const id of open) document.getElementById(id)?.setAttribute("open", "");
        history.replaceState(null, "", address);
        const said = document.getElementById(form.dataset.again + "-said");
        if (said) said.textContent = fresh.querySelector("[data-answer]")?.textContent ?? "";
        begin(fresh.parentNode);
      } catch {
        // The laptop does not answer: the button still works.
      }
    };
    const soon = () => {
      clearTimeout(clock);
      clock = setTimeout(ask, pause);
    };
    form.addEventListener("input", soon);
    form.addEventListener("keydown", (e) => {
      const step = { ArrowUp: 1, ArrowDown: -1 }[e.key];
      if (!step || e.target.inputMode !== "numeric" && e.target.inputMode !== "decimal" || !/^\d+$/.test(e.target.value)) return;
      e.preventDefault();
      e.target.value = Math.max(1, Number(e.target.value) + step);
      soon();
    });
  }
}
