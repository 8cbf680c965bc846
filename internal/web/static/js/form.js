// Forms on a network that breaks. Before a form is sent the server is asked whether it answers; while it does not, the page
// says that nothing is recorded yet, keeps what was typed, and tries again with the same command id. Drafts live in the
// tab's own storage, under the name of the person signed in; private fields are never in them.

const pause = 3000;
const patience = 4000;
const prefix = "draft:";

const keyOf = (form) => form.dataset.draft && `${prefix}${document.body.dataset.who}:${form.dataset.draft}`;
const kept = (el) => el.name && !("private" in el.dataset) && !["password", "file", "submit", "button"].includes(el.type);

async function answers() {
  try {
    const mine = document.querySelector('script[type="module"]').src;
    const reply = await fetch(mine, { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(patience) });
    return reply.ok;
  } catch {
    return false;
  }
}

function keep(form, sent) {
  const key = keyOf(form);
  if (!key) return;
  const values = [];
  for (const el of form.elements) {
    if (!kept(el)) continue;
    if ((el.type === "radio" || el.type === "checkbox") && !el.checked) continue;
    values.push([el.name, el.value]);
  }
  try {
    sessionStorage.setItem(key, JSON.stringify({ at: Date.now(), sent, values }));
  } catch {
    // Storage is full or forbidden: the form still works, it is only not kept.
  }
}

function bringBack(form) {
  const key = keyOf(form);
  if (!key) return;
  let draft;
  try {
    draft = JSON.parse(sessionStorage.getItem(key));
  } catch {
    draft = null;
  }
  if (!draft) return;
  const [came] = performance.getEntriesByType("navigation");
  const returned = came?.type === "back_forward" || came?.type === "reload";
  if (form.querySelector("[aria-invalid], .wrong") || document.getElementById("summary") || (draft.sent && !returned)) {
    sessionStorage.removeItem(key); // the server has answered: the page is truer than the draft
    return;
  }
  let changed = false;
  for (const el of form.elements) {
    if (!kept(el)) continue;
    const mine = draft.values.filter(([name]) => name === el.name).map(([, value]) => value);
    if (el.type === "radio" || el.type === "checkbox") {
      const on = mine.includes(el.value);
      if (on !== el.checked) changed = true;
      el.checked = on;
    } else if (mine.length > 0 && mine[0] !== el.value) {
      if (el.type !== "hidden") changed = true;
      el.value = mine[0];
    }
  }
  if (!changed) return;
  const time = new Date(draft.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
  say(form, `What you typed at ${time} is back. It is not recorded yet.`, "Start again", () => {
    sessionStorage.removeItem(key);
    location.assign(location.href);
  });
}

function say(form, text, label, act) {
  let box = form.querySelector(".form-state");
  if (!text) return box?.remove();
  if (!box) {
    box = document.createElement("div");
    box.className = "form-state";
    box.setAttribute("role", "status");
    form.insertBefore(box, form.querySelector(".bar"));
  }
  const line = document.createElement("p");
  line.textContent = text;
  box.replaceChildren(line);
  if (label) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button";
    button.textContent = label;
    button.addEventListener("click", act);
    box.append(button);
  }
}

function guard(form) {
  let busy = false;
  let tries = 0;
  let passed = false;
  const buttons = () => form.querySelectorAll('button[type="submit"]');
  const free = () => {
    busy = false;
    tries++;
    for (const b of buttons()) b.removeAttribute("aria-disabled");
  };
  form.addEventListener("submit", async (e) => {
    if (passed) return;
    e.preventDefault();
    if (busy) return;
    busy = true;
    const mine = ++tries;
    const pressed = e.submitter;
    for (const b of buttons()) b.setAttribute("aria-disabled", "true");
    keep(form, false);
    while (!(await answers())) {
      if (mine !== tries) return;
      say(form, "Not recorded yet: the laptop does not answer. What you typed is kept here and is sent when it does.", "Stop trying", () => {
        free();
        say(form, "Not recorded. Press the button again when the laptop is back.");
      });
      await new Promise((done) => setTimeout(done, pause));
      if (mine !== tries) return;
    }
    if (mine !== tries) return;
    say(form, "");
    keep(form, true);
    passed = true;
    form.requestSubmit(pressed);
    passed = false;
    setTimeout(() => mine === tries && free(), 10000); // the same id goes with a second press, so this is safe
  });
  form.addEventListener("input", () => keep(form, false));
  addEventListener("pageshow", (e) => {
    if (e.persisted) free();
  });
}

// summarise puts the links of an error summary in the order of the page and moves the reader there.
function summarise() {
  const box = document.getElementById("summary");
  if (!box) return;
  const place = (item) => document.getElementById(item.firstElementChild.hash.slice(1));
  const items = Array.from(box.querySelectorAll("li")).sort((a, b) => {
    const [x, y] = [place(a), place(b)];
    if (!x || !y || x === y) return 0;
    return x.compareDocumentPosition(y) & Node.DOCUMENT_POSITION_FOLLOWING ? -1 : 1;
  });
  box.querySelector("ul")?.replaceChildren(...items);
  box.focus();
}

export function start(root) {
  if (root === document && !document.body.dataset.who) {
    for (const key of Object.keys(sessionStorage)) if (key.startsWith(prefix)) sessionStorage.removeItem(key);
  }
  for (const form of root.querySelectorAll("form[data-form]")) {
    if (form.dataset.running) continue;
    form.dataset.running = "yes";
    bringBack(form);
    guard(form);
  }
  if (root === document) summarise();
}
