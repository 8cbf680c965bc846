// Forms on a network that breaks. Before a form is sent the server is asked whether it answers; while it does not, the page
// says that nothing is recorded yet, keeps what was typed, and tries again with the same command id.
//
// What was typed is kept on the device for twelve hours under the name of the person signed in, so that a phone whose
// browser was ended finds it again; a hand-over forgets it. Private fields and what the page itself carries are never kept.
// A form that was sent is kept with its command id until its answer has come: when the answer was lost, the same form is sent
// under the same id, and the record takes it once.

const pause = 3000;
const patience = 4000;
const prefix = "draft:";
const lasting = 12 * 60 * 60 * 1000;

const words = {
  en: {
    silent: "Not recorded yet: the laptop does not answer. What you typed is kept here and is sent when it does.",
    stop: "Stop trying",
    stopped: "Not recorded. Press the button again when the laptop is back.",
    back: (time) => `What you typed at ${time} is back. It is not recorded yet.`,
    again: "Start again",
    owed: (time) => `You sent this at ${time}, and no answer came. Press the button again: it is recorded once, not twice.`,
  },
  es: {
    silent: "Todavía no está registrado: la computadora no responde. Lo que escribió queda guardado aquí y se envía cuando responda.",
    stop: "Dejar de intentar",
    stopped: "No está registrado. Presione el botón otra vez cuando la computadora responda.",
    back: (time) => `Lo que escribió a las ${time} está aquí otra vez. Todavía no está registrado.`,
    again: "Empezar de nuevo",
    owed: (time) => `Lo envió a las ${time} y no llegó respuesta. Presione el botón otra vez: se registra una vez, no dos.`,
  },
};
const our = words[document.documentElement.lang] ?? words.en;

const secret = (el) => "private" in el.dataset || ["password", "file"].includes(el.type);
const typed = (el) => el.name && !secret(el) && !["hidden", "submit", "button"].includes(el.type);
const kept = (el) => typed(el) || el.name === "command";

// tab is this tab's own name, which ends with it.
function tab() {
  let name = sessionStorage.getItem("tab");
  if (!name) sessionStorage.setItem("tab", (name = crypto.getRandomValues(new Uint32Array(2)).join("-")));
  return name;
}

const here = () => location.href.split("#")[0];

// answered tells whether this page is the answer to a form. It comes from its own page: either the page that the server sent on to, or the form again with what is wrong.
function answered(draft) {
  const [came] = performance.getEntriesByType("navigation");
  if (!draft.sent || draft.tab !== tab() || draft.page !== document.referrer) return false;
  return came?.redirectCount > 0 || (came?.type === "navigate" && draft.to === location.pathname);
}

// keyOf names a form by who is signed in and by where it leads, with what tells it from its neighbours on the page.
function keyOf(form) {
  const own = Array.from(form.elements).filter((el) => el.type === "hidden" && el.name !== "command" && el.value.length <= 60);
  const rest = form.dataset.draft || new URL(form.action, location).pathname + own.map((el) => `&${el.name}=${el.value}`).join("");
  return `${prefix}${document.body.dataset.who}:${rest}`;
}

async function answers() {
  try {
    const mine = document.querySelector('script[type="module"]').src;
    const reply = await fetch(mine, { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(patience) });
    return reply.ok;
  } catch {
    return false;
  }
}

function keep(form, sent, pressed) {
  const to = new URL(pressed?.hasAttribute("formaction") ? pressed.formAction : form.action, location).pathname;
  const values = [];
  for (const el of form.elements) {
    if (!kept(el)) continue;
    if ((el.type === "radio" || el.type === "checkbox") && !el.checked) continue;
    values.push([el.name, el.value]);
  }
  try {
    localStorage.setItem(keyOf(form), JSON.stringify({ at: Date.now(), tab: tab(), page: here(), to, sent, values }));
  } catch {
    // Storage is full or forbidden: the form still works, it is only not kept.
  }
}

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

// sweep forgets what is too old, what this tab has had an answer to, and everything once nobody is signed in.
function sweep() {
  const locked = document.querySelector("[data-locked]") !== null; // the form was not taken: the PIN is asked again first
  for (const key of Object.keys(localStorage).filter((k) => k.startsWith(prefix))) {
    const draft = read(key);
    if (locked && draft?.sent && draft.tab === tab()) {
      localStorage.setItem(key, JSON.stringify({ ...draft, sent: false }));
      continue;
    }
    const age = draft ? Date.now() - draft.at : lasting;
    if (!document.body.dataset.who || age >= lasting || age < -lasting || answered(draft)) localStorage.removeItem(key);
  }
}

// put fills a form with a draft and tells whether that changed what can be seen.
function put(form, draft) {
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
  return changed;
}

// bringBack tells whether the form was sent before and no answer came.
function bringBack(form) {
  const key = keyOf(form);
  const draft = read(key);
  if (!draft) return false;
  if (form.querySelector("[aria-invalid], .wrong") || document.getElementById("summary")) {
    localStorage.removeItem(key); // the server has answered: the page is truer than the draft
    return false;
  }
  const changed = put(form, draft);
  if (!changed && !draft.sent) return false;
  // The record may hold what was sent under this id: it stays as it was sent, or is begun anew.
  if (draft.sent) for (const act of ["input", "change"]) form.addEventListener(act, () => put(form, draft));
  const time = new Date(draft.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
  say(form, draft.sent ? our.owed(time) : our.back(time), our.again, () => {
    localStorage.removeItem(key);
    location.assign(location.href);
  });
  return draft.sent;
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

function guard(form, owed) {
  let busy = false;
  let tries = 0;
  let passed = false;
  let sent = owed; // under this command id
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
    keep(form, sent);
    while (!(await answers())) {
      if (mine !== tries) return;
      const told = form.querySelector(".form-state");
      say(form, our.silent, our.stop, () => {
        free();
        say(form, our.stopped);
      });
      if (!told) form.querySelector(".form-state").scrollIntoView({ block: "center" }); // the bar must not lie over it
      await new Promise((done) => setTimeout(done, pause));
      if (mine !== tries) return;
    }
    if (mine !== tries) return;
    say(form, "");
    sent = true;
    keep(form, sent, pressed);
    passed = true;
    form.requestSubmit(pressed);
    passed = false;
    setTimeout(() => mine === tries && free(), 10000); // the same id goes with a second press, so this is safe
  });
  form.addEventListener("input", () => keep(form, sent));
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
  if (root === document) {
    try {
      sweep();
    } catch {
      // Storage is forbidden: there is nothing to forget.
    }
  }
  for (const form of root.querySelectorAll("form[data-form]")) {
    if (form.dataset.running) continue;
    form.dataset.running = "yes";
    guard(form, bringBack(form));
  }
  if (root === document) summarise();
}
