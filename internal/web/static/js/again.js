// A form that only asks: when something is changed in it the page is asked again, and the new answer takes the place of the
// old one. The button does the same without scripts. The arrow keys raise and lower a whole number by one, and a slide beside
// a field of posts drags it. On a phone what is asked is folded once there is an answer.

const pause = 120; // while somebody types
const narrow = "(max-width: 71.99rem)";

function mend(old, fresh) {
  for (const field of fresh.querySelectorAll(".field")) {
    const input = field.querySelector("[id]:is(input, select)");
    const mine = input && document.getElementById(input.id);
    const box = mine?.closest(".field");
    if (!box || !old.contains(box)) continue;
    box.className = field.className;
    box.querySelector(".wrong")?.remove();
    const wrong = field.querySelector(".wrong");
    if (wrong) {
      box.append(wrong);
      box.closest("details")?.setAttribute("open", "");
    }
    for (const name of ["aria-invalid", "aria-describedby"]) {
      if (input.hasAttribute(name)) mine.setAttribute(name, input.getAttribute(name));
      else mine.removeAttribute(name);
    }
  }
  for (const line of fresh.querySelectorAll("summary[id] > span")) {
    const mine = document.getElementById(line.parentNode.id)?.querySelector("span");
    if (mine) mine.textContent = line.textContent;
  }
}

// found gives the numbers of the answer by the name of their field.
function found() {
  const text = document.querySelector("[data-found]")?.dataset.found ?? "";
  return new Map(text.split(" ").filter(Boolean).map((pair) => pair.split("=")));
}

// slides puts a slide under each field of posts. It shows what was found where the field is empty.
function slides(form, ask) {
  const all = [];
  for (const input of form.querySelectorAll("[data-slides] .field input")) {
    const slide = document.createElement("input");
    slide.type = "range";
    slide.className = "slide";
    slide.min = "1";
    slide.step = "1";
    slide.setAttribute("aria-label", input.closest(".field").querySelector("label").firstChild.textContent.trim());
    slide.addEventListener("input", (e) => {
      e.stopPropagation();
      input.value = slide.value;
      ask();
    });
    input.closest(".field").append(slide);
    all.push([input, slide]);
  }
  return () => {
    const numbers = found();
    for (const [input, slide] of all) {
      const value = Number(input.value || numbers.get(input.name));
      slide.hidden = !(value >= 1);
      if (slide === document.activeElement && slide.value === input.value) continue;
      slide.max = String(Math.max(8, 2 * value));
      slide.value = String(value);
    }
  };
}

export function start(root, begin) {
  for (const form of root.querySelectorAll("form[data-again]")) {
    let clock;
    let running = false;
    let waiting = false;
    let settle = () => {};
    const once = async () => {
      const address = new URL(form.action, location.href);
      address.search = new URLSearchParams(new FormData(form));
      const reply = await fetch(address);
      const page = new DOMParser().parseFromString(await reply.text(), "text/html");
      const fresh = page.getElementById(form.dataset.again);
      const asked = page.getElementById(form.id);
      const old = document.getElementById(form.dataset.again);
      if (!fresh || !asked || !old) return;
      mend(form, asked);
      const open = Array.from(old.querySelectorAll("details[open][id]"), (d) => d.id);
      old.replaceWith(document.adoptNode(fresh));
      for (const id of open) document.getElementById(id)?.setAttribute("open", "");
      settle();
      begin(fresh.parentNode);
      if (waiting) return;
      history.replaceState(null, "", address);
      const said = document.getElementById(form.dataset.again + "-said");
      if (said) said.textContent = fresh.querySelector("[data-answer]")?.textContent ?? "";
    };
    // One question at a time: what is changed meanwhile is asked as soon as the answer stands.
    const ask = async () => {
      clearTimeout(clock);
      waiting = true;
      if (running) return;
      running = true;
      try {
        while (waiting) {
          waiting = false;
          await once();
        }
      } catch {
        waiting = false; // The laptop does not answer: the button still works.
      }
      running = false;
    };
    form.addEventListener("input", () => {
      clearTimeout(clock);
      clock = setTimeout(ask, pause);
    });
    form.addEventListener("keydown", (e) => {
      const step = { ArrowUp: 1, ArrowDown: -1 }[e.key];
      if (!step || e.target.inputMode !== "numeric" && e.target.inputMode !== "decimal" || !/^\d+$/.test(e.target.value)) return;
      e.preventDefault();
      e.target.value = Math.max(1, Number(e.target.value) + step);
      settle();
      ask();
    });
    settle = slides(form, ask);
    settle();
    if (matchMedia(narrow).matches && document.querySelector("[data-answer]")) {
      for (const part of form.querySelectorAll("details[data-narrow]")) {
        if (!part.querySelector(".wrong") && !("slides" in part.dataset)) part.removeAttribute("open");
      }
    }
  }
}
