// Finds one thing on a page by the words on it, as somebody who looks or listens would. The whole file is one expression.
(() => {
  const squash = (s) => (s || "").replace(/\s+/g, " ").trim();
  const fields = "input:not([type=hidden]):not([type=submit]):not([type=button]):not([type=reset]):not([type=image]), select, textarea, [contenteditable=true]";
  const pressed = "button, a[href], summary, label, input:not([type=hidden]), select, textarea, option, [role=button], [role=link], [role=tab], [role=radio], [role=checkbox], [role=switch], [role=option], [role=menuitem]";

  const shown = (e) => {
    const r = e.getBoundingClientRect();
    return r.width > 1 && r.height > 1 && e.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  };

  const nameOf = (e) => {
    const by = e.getAttribute("aria-labelledby");
    if (by) return squash(by.split(/\s+/).map((id) => document.getElementById(id)?.textContent).join(" "));
    if (e.getAttribute("aria-label")) return squash(e.getAttribute("aria-label"));
    if (e.labels && e.labels.length) return squash([...e.labels].map((l) => l.innerText).join(" "));
    if (e.matches("input[type=submit], input[type=button], input[type=reset]")) return squash(e.value);
    return squash(e.innerText) || squash(e.getAttribute("alt") || e.title || e.getAttribute("placeholder"));
  };

  // The best candidates for the words: equal, else beginning with them, else holding them. Capitals do not matter, since
  // a style may have made them.
  const best = (what, role) => {
    if (what.startsWith("css:")) return [...document.querySelectorAll(what.slice(4))];
    const want = squash(what).toLowerCase();
    let list = [...document.querySelectorAll(role === "field" ? fields : pressed)];
    if (role !== "field") {
      list = list.filter(shown);
      // A label and its own visible control are one thing.
      list = list.filter((e) => !(e.tagName === "LABEL" && e.control && list.includes(e.control)));
    } else {
      list = list.filter((e) => shown(e) || [...(e.labels || [])].some(shown));
    }
    const named = list.map((e) => [e, nameOf(e).toLowerCase()]);
    for (const fits of [(n) => n === want, (n) => n.startsWith(want), (n) => n.includes(want)]) {
      const hit = named.filter(([, n]) => fits(n)).map(([e]) => e);
      if (hit.length) return hit;
    }
    return [];
  };

  const kindOf = (e) => {
    if (e.tagName === "SELECT") return "choice";
    if (e.tagName === "TEXTAREA" || e.isContentEditable) return "text";
    if (e.tagName !== "INPUT") return "";
    if (e.type === "file") return "file";
    if (["date", "time", "month", "week", "datetime-local", "range", "color"].includes(e.type)) return "set";
    return ["checkbox", "radio", "submit", "button", "reset", "image"].includes(e.type) ? "" : "text";
  };

  const find = (what, role) => {
    const hit = best(what, role);
    const no = (problem) => ({ Problem: problem, X: 0, Y: 0, Kind: "" });
    if (hit.length === 0) return no("there is no such thing to be seen");
    if (hit.length > 1) return no(`${hit.length} things fit equally well`);
    const e = hit[0];
    if (e.disabled || e.getAttribute("aria-disabled") === "true") return no("it is disabled");
    const kind = kindOf(e);
    const glass = shown(e) ? e : [...(e.labels || [])].find(shown);
    if (!glass) return no("it cannot be seen");
    glass.scrollIntoView({ block: "center", inline: "nearest", behavior: "instant" });
    const r = glass.getClientRects()[0];
    const x = r.left + r.width / 2;
    const y = r.top + r.height / 2;
    const top = document.elementFromPoint(x, y);
    const same = top && (glass.contains(top) || top.contains(glass) && top.matches("label, button, a") || top.closest("label")?.control === e);
    if (!same) return no(top ? `it is covered by <${top.tagName.toLowerCase()} class="${top.className}">` : "it lies outside the glass");
    return { Problem: "", X: x, Y: y, Kind: kind };
  };

  const put = (what, text) => {
    const e = best(what, "field")[0];
    if (e.tagName === "SELECT") {
      const want = squash(text).toLowerCase();
      const options = [...e.options].filter((o) => squash(o.text).toLowerCase() === want);
      if (options.length !== 1) return `the list offers: ${[...e.options].map((o) => squash(o.text)).join(", ")}`;
      if (options[0].disabled) return "that choice is disabled";
      e.value = options[0].value;
    } else {
      e.value = text;
      if (e.value !== text) return "the field does not take it";
    }
    e.dispatchEvent(new Event("input", { bubbles: true }));
    e.dispatchEvent(new Event("change", { bubbles: true }));
    return "";
  };

  return { find, put, element: (what, role) => best(what, role)[0] };
})()
