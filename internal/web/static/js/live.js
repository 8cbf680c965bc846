// Keeps parts of a page true. The server sends an event "fragment" whose data is the HTML of one or more elements with ids;
// each takes the place of the element with its id. It sends an event "beat" every few seconds, so that a silent loss is
// noticed: when the stream is gone the page says since when it is old. A critical alert sounds until it is stilled here.

const signs = "stilled:";
const silence = 40000; // without any event for so long, once beats have come, the stream counts as lost
let audio = null;
let sounding = null;

function beep() {
  try {
    audio ??= new AudioContext();
    const now = audio.currentTime;
    for (const [delay, pitch] of [[0, 880], [0.25, 660]]) {
      const tone = audio.createOscillator();
      const loud = audio.createGain();
      tone.frequency.value = pitch;
      loud.gain.setValueAtTime(0.0001, now + delay);
      loud.gain.exponentialRampToValueAtTime(0.4, now + delay + 0.02);
      loud.gain.exponentialRampToValueAtTime(0.0001, now + delay + 0.2);
      tone.connect(loud).connect(audio.destination);
      tone.start(now + delay);
      tone.stop(now + delay + 0.22);
    }
  } catch {
    // A device without sound still shows the banner.
  }
}

const stilled = (key) => sessionStorage.getItem(signs + key) !== null;

function watch() {
  let loud = false;
  for (const alert of document.querySelectorAll("[data-alert]")) {
    const quiet = stilled(alert.dataset.alert);
    const button = alert.querySelector("[data-still]");
    if (button) button.hidden = quiet;
    if (!quiet) loud = true;
  }
  if (loud && sounding === null) {
    beep();
    sounding = setInterval(beep, 4000);
  } else if (!loud && sounding !== null) {
    clearInterval(sounding);
    sounding = null;
  }
}

function swap(html, start) {
  const box = document.createElement("template");
  box.innerHTML = html;
  for (const fresh of Array.from(box.content.children)) {
    const old = fresh.id && document.getElementById(fresh.id);
    if (!old || old.querySelector('[aria-disabled="true"]')) continue; // a form in it is on its way
    const focused = old.contains(document.activeElement) ? document.activeElement : null;
    const at = focused && (focused.id ? `#${CSS.escape(focused.id)}` : focused.getAttribute("href") && `a[href="${CSS.escape(focused.getAttribute("href"))}"]`);
    for (const el of fresh.querySelectorAll(".waiting[id]")) {
      if (!document.getElementById(el.id)) el.classList.add("arrives");
    }
    old.replaceWith(fresh);
    if (at) fresh.parentNode.querySelector(at)?.focus();
    start(fresh.parentNode);
  }
  for (const field of document.querySelectorAll("[data-filter]")) if (field.value) field.dispatchEvent(new Event("input"));
}

function listen(address, start) {
  const state = document.getElementById("live-state");
  let last = new Date();
  let beats = false;
  let stream;
  const old = () => {
    if (!state || !state.hidden) return;
    const time = last.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
    state.textContent = state.dataset.old.replace("{time}", time);
    state.hidden = false;
  };
  const fresh = () => {
    last = new Date();
    if (state) state.hidden = true;
  };
  const open = () => {
    stream = new EventSource(address);
    stream.addEventListener("open", fresh);
    stream.addEventListener("fragment", (e) => {
      fresh();
      swap(e.data, start);
      watch();
    });
    stream.addEventListener("beat", () => {
      beats = true;
      fresh();
    });
    stream.addEventListener("error", () => {
      old();
      if (stream.readyState === EventSource.CLOSED) setTimeout(open, 3000);
    });
  };
  setInterval(() => {
    if (!beats || Date.now() - last < silence) return;
    beats = false;
    old();
    stream.close();
    open();
  }, 5000);
  addEventListener("offline", old);
  addEventListener("pagehide", () => stream.close());
  addEventListener("pageshow", (e) => {
    if (e.persisted) open();
  });
  open();
}

export function start(root, begin) {
  root.addEventListener("click", (e) => {
    const button = e.target.closest("[data-still]");
    if (!button) return;
    sessionStorage.setItem(signs + button.closest("[data-alert]").dataset.alert, "yes");
    watch();
  });
  watch();
  if (root.body.dataset.live) listen(root.body.dataset.live, begin);
}
